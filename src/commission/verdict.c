#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "kniferail/commission.h"

bool kr_step_passes(const struct kr_step_verdict *verdict)
{
    return verdict->n_findings == 0 && verdict->lost == 0;
}

void kr_figure_add(struct kr_step_verdict *verdict, const char *name, const char *value, ...)
{
    if (verdict->n_figures == KR_FIGURES_MAX) {
        verdict->lost++;
        return;
    }
    struct kr_figure *figure = &verdict->figure[verdict->n_figures++];
    va_list values;
    snprintf(figure->name, sizeof figure->name, "%s", name);
    va_start(values, value);
    vsnprintf(figure->value, sizeof figure->value, value, values);
    va_end(values);
}

void kr_finding_add(struct kr_step_verdict *verdict, const char *setting, const char *change, const char *seen, ...)
{
    if (verdict->n_findings == KR_FINDINGS_MAX) {
        verdict->lost++;
        return;
    }
    struct kr_finding *finding = &verdict->finding[verdict->n_findings++];
    va_list values;
    snprintf(finding->setting, sizeof finding->setting, "%s", setting);
    snprintf(finding->change, sizeof finding->change, "%s", change);
    va_start(values, seen);
    vsnprintf(finding->seen, sizeof finding->seen, seen, values);
    va_end(values);
}
