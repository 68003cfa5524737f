#include "kniferail/axis.h"

/* Masks and values of CiA 402. In states in which bit 5 (quick stop) does not count, the mask leaves it out. */
enum kr_drive_state kr_drive_state_of(uint16_t statusword)
{
    static const struct {
        uint16_t mask, value;
        enum kr_drive_state state;
    } row[] = {
        {0x4F, 0x00, KR_DRIVE_NOT_READY},
        {0x4F, 0x40, KR_DRIVE_SWITCH_ON_DISABLED},
        {0x6F, 0x21, KR_DRIVE_READY_TO_SWITCH_ON},
        {0x6F, 0x23, KR_DRIVE_SWITCHED_ON},
        {0x6F, 0x27, KR_DRIVE_OPERATION_ENABLED},
        {0x6F, 0x07, KR_DRIVE_QUICK_STOP_ACTIVE},
        {0x4F, 0x0F, KR_DRIVE_FAULT_REACTION_ACTIVE},
        {0x4F, 0x08, KR_DRIVE_FAULT},
    };
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++)
        if ((statusword & row[i].mask) == row[i].value)
            return row[i].state;
    return KR_DRIVE_UNKNOWN;
}
