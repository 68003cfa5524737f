/* Judges the signatures of the sheet of the safety interface. */
#include <string.h>

#include "kniferail/commission.h"

static unsigned number_of(const char *text, size_t n)
{
    unsigned number = 0;
    for (size_t i = 0; i < n; i++)
        number = 10 * number + (unsigned)(text[i] - '0');
    return number;
}

static unsigned days_of(unsigned year, unsigned month)
{
    if (month == 2)
        return year % 4 == 0 && (year % 100 != 0 || year % 400 == 0) ? 29 : 28;
    return month == 4 || month == 6 || month == 9 || month == 11 ? 30 : 31;
}

bool kr_is_date(const char *text)
{
    static const char form[] = "0000-00-00";
    if (strlen(text) != sizeof form - 1)
        return false;
    for (size_t i = 0; form[i] != '\0'; i++)
        if (form[i] == '-' ? text[i] != '-' : text[i] < '0' || text[i] > '9')
            return false;
    unsigned month = number_of(text + 5, 2), day = number_of(text + 8, 2);
    return month >= 1 && month <= 12 && day >= 1 && day <= days_of(number_of(text, 4), month);
}

/* Days in this form are in the sequence of their texts. */
void kr_judge_sheet(const struct kr_sheet_seen *seen, struct kr_step_verdict *verdict)
{
    kr_figure_add(verdict, "sheet printed on", "%s", seen->printed);
    if (!seen->is_signed)
        kr_finding_add(verdict, "", "have it filled in and signed, and let the step be made again",
                       "The sheet is not filled in and signed.");
    else if (strcmp(seen->signed_on, seen->printed) < 0)
        kr_finding_add(verdict, "", "have the sheet signed that was printed last, because what it says has changed",
                       "The signature is of %s, and the sheet was printed on %s.", seen->signed_on, seen->printed);
    else if (strcmp(seen->signed_on, seen->today) > 0)
        kr_finding_add(verdict, "", "type the date that stands on the sheet, or set this computer's clock",
                       "The signature is of %s, and today is %s by this computer's clock.", seen->signed_on,
                       seen->today);
    else
        kr_figure_add(verdict, "sheet signed on", "%s", seen->signed_on);
}
