#include <stdio.h>
#include <time.h>

#include "kniferail/book.h"

void kr_book_time_text(int64_t utc_ms, char text[KR_BOOK_TIME_MAX])
{
    int64_t seconds = utc_ms / 1000, ms = utc_ms % 1000;
    if (ms < 0) {
        ms += 1000;
        seconds--;
    }
    time_t time = (time_t)seconds;
    struct tm tm;
    char date[24] = "";
    if (gmtime_r(&time, &tm) == NULL || strftime(date, sizeof date, "%Y-%m-%dT%H:%M:%S", &tm) == 0)
        snprintf(date, sizeof date, "0000-00-00T00:00:00"); /* the year is beyond the range of the calendar */
    snprintf(text, KR_BOOK_TIME_MAX, "%s.%03dZ", date, (int)ms);
}
