#include "kniferail/caution.h"

const char kr_caution[] = "Moving knives hurt people. The gateway sequences motion; it is not a safety "
                          "function. Emergency stop, guard\n"
                          "locking, safe torque off and energy isolation belong to a safety system designed, "
                          "validated and maintained by\n"
                          "qualified people under the codes that apply where the machine stands. Lock out "
                          "and tag out before reaching in;\n"
                          "cut-resistant gloves and blade guards in handling; nobody in the zone when motion "
                          "is enabled; first moves at\n"
                          "reduced speed.\n";
