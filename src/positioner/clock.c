/* The line's clock. */
#include <errno.h>
#include <time.h>

#include "line.h"

int64_t line_now_us(void)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now); /* it can't fail: this clock exists on every system we support */
    return (int64_t)now.tv_sec * 1000000 + now.tv_nsec / 1000;
}

void line_sleep_us(int64_t us)
{
    struct timespec left = {us / 1000000, us % 1000000 * 1000};
    while (us > 0 && nanosleep(&left, &left) != 0 && errno == EINTR)
        ;
}
