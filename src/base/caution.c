#include "kniferail/caution.h"

const char kr_caution[] =
    "Moving knives hurt people. The gateway sequences motion; it is not a safety function. Emergency\n"
    "stop, guard locking, safe torque off and energy isolation belong to a safety system that qualified\n"
    "people design, validate and maintain under the codes that apply where the machine stands. Lock out\n"
    "and tag out before you reach in. Wear cut-resistant gloves and use blade guards when you handle\n"
    "knives. Enable motion only with nobody in the zone, and make first moves at reduced speed.\n";

const char kr_caution_hands[] =
    "Before hands go near a knife, a holder or a pin, drives and air are locked out and tagged out by\n"
    "people who are qualified for it under the codes that apply where the machine stands. They wear gloves\n"
    "that resist cuts, and a knife that is carried has its guard on. Afterwards the guards are closed,\n"
    "nobody is in the zone, and the first moves are slow.\n";
