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

const char kr_caution_hands[] = "Before hands go near a knife, a holder or a pin: drives and air are locked "
                                "out and tagged out, by people who\n"
                                "are qualified for it under the codes that apply where the machine stands; "
                                "gloves resist cuts; a knife that is\n"
                                "carried has its guard on. Afterwards guards are closed, nobody is in the "
                                "zone, and the first moves are slow.\n";
