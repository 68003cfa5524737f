#include "last_run.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "log.h"

void last_run_boot(char boot[LAST_RUN_BOOT_MAX])
{
    FILE *file = fopen("/proc/sys/kernel/random/boot_id", "re");
    boot[0] = '\0';
    if (file == NULL)
        return;
    if (fgets(boot, LAST_RUN_BOOT_MAX, file) == NULL)
        boot[0] = '\0';
    fclose(file);
    boot[strcspn(boot, "\n")] = '\0';
}

/* A clock may be set back, so the pause is at least 0. */
static int64_t pause_s(const struct kr_book_run *run, int64_t now_utc_ms)
{
    int64_t seconds = now_utc_ms / 1000 - run->sign_utc_s;
    return run->sign_utc_s == 0 || seconds < 0 ? 0 : seconds;
}

void last_run_tell(const struct kr_book_run *run, int64_t now_utc_ms)
{
    char sign[KR_BOOK_TIME_MAX];
    if (run->session == 0)
        return;
    kr_book_time_text(run->sign_utc_s * 1000, sign);
    log_line(run->end == KR_RUN_ASKED ? LOG_NOTICE : LOG_WARNING,
             "the last run, session %u: %s; its last entry in the book is of %.19sZ, %" PRId64 " s before this start",
             run->session, kr_named("LAST_RUN_END", (int)run->end)->text, sign, pause_s(run, now_utc_ms));
}

static uint32_t in_register(int64_t seconds)
{
    return seconds < 0 ? 0 : seconds > UINT32_MAX ? UINT32_MAX : (uint32_t)seconds;
}

void last_run_show(const struct kr_book_run *run, int64_t began_utc_ms, struct kr_image *image)
{
    kr_image_set_u16(image, KR_REG_LAST_RUN_END, 0, 0, (uint16_t)run->end);
    kr_image_set_u16(image, KR_REG_LAST_RUN_SESSION, 0, 0, run->session);
    kr_image_set_32(image, KR_REG_LAST_RUN_SIGN, 0, 0, in_register(run->sign_utc_s));
    kr_image_set_32(image, KR_REG_LAST_RUN_PAUSE, 0, 0, in_register(pause_s(run, began_utc_ms)));
}
