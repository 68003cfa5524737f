#include "metrics.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

struct sample {
    FILE *out;
    const struct kr_image *image;
    int number; /* the station's number */
    char name[64];
};

static uint32_t u16(const struct kr_image *image, enum kr_reg reg, uint16_t index)
{
    return kr_get_u16(image, reg, 0, index);
}

static uint32_t u32(const struct kr_image *image, enum kr_reg reg, uint16_t index)
{
    return (uint32_t)kr_get_i32(image, reg, 0, index);
}

/* Writes the value of a label: backslash, quote and line feed have to be escaped. Other characters that can't be
 * printed do not occur in the name of a station. */
static void label(FILE *out, const char *text)
{
    for (; *text; text++)
        fprintf(out, *text == '\\' || *text == '"' ? "\\%c" : "%c", *text);
}

static void begin(const struct sample *s, const char *family)
{
    fprintf(s->out, "kniferail_%s{station=\"%d\",name=\"", family, s->number);
    label(s->out, s->name);
    fprintf(s->out, "\"");
}

static void state_samples(const struct sample *s, const char *family)
{
    for (int state = 1; state <= 17; state++) {
        const struct kr_named_number *named = kr_named("UNIT_STATE", state);
        begin(s, family);
        fprintf(s->out, ",state=\"%s\"} %d\n", named ? named->name : "?",
                u16(s->image, KR_REG_UNIT_STATE, 0) == (uint32_t)state);
    }
}

static void state_time_samples(const struct sample *s, const char *family)
{
    for (int state = 1; state <= 17; state++) {
        const struct kr_named_number *named = kr_named("UNIT_STATE", state);
        begin(s, family);
        fprintf(s->out, ",state=\"%s\"} %" PRIu32 "\n", named ? named->name : "?",
                u32(s->image, KR_REG_STATE_TIMES, (uint16_t)(state - 1)));
    }
}

static void line_samples(const struct sample *s, const char *family)
{
    const struct kr_named_number *named;
    for (int bit = 0; bit < 16; bit++) {
        if ((named = kr_named("LINE_STATUS", bit)) == NULL)
            continue;
        begin(s, family);
        fprintf(s->out, ",signal=\"%s\"} %d\n", named->name, (int)(u16(s->image, KR_REG_LINE_STATUS, 0) >> bit & 1));
    }
}

static void status_samples(const struct sample *s, const char *family)
{
    const struct kr_named_number *named;
    for (int bit = 0; bit < 16; bit++) {
        if ((named = kr_named("STATUS", bit)) == NULL)
            continue;
        begin(s, family);
        fprintf(s->out, ",bit=\"%s\"} %d\n", named->name, (int)(u16(s->image, KR_REG_STATUS, 0) >> bit & 1));
    }
}

static void alarm_samples(const struct sample *s, const char *family)
{
    for (uint16_t i = 0; i < kr_get_alarms(s->image); i++) {
        struct kr_alarm alarm = kr_get_alarm(s->image, i);
        const struct kr_alarm_info *info = kr_alarm_info(alarm.code);
        begin(s, family);
        fprintf(s->out, ",place=\"%u\",code=\"%u\",alarm=\"%s\",rail=\"%u\",item=\"%u\"} %" PRIu32 "\n", i + 1u,
                alarm.code, info ? info->name : "?", alarm.rail, alarm.item, u32(s->image, KR_REG_ALARM_AGES, i));
    }
}

static void overrun_samples(const struct sample *s, const char *family)
{
    begin(s, family);
    fprintf(s->out, "} %" PRIu32 "\n", u32(s->image, KR_REG_OVERRUNS, 0));
}

static void gap_samples(const struct sample *s, const char *family)
{
    begin(s, family);
    fprintf(s->out, "} %g\n", u16(s->image, KR_REG_OWN_GAP, 0) / 1000.0);
}

/* Writes one sample for each rail, from a row that has one element for each rail. */
static void drive_samples(const struct sample *s, const char *family, enum kr_reg reg, double of)
{
    for (uint16_t r = 0; r < kr_get_rails(s->image); r++) {
        begin(s, family);
        fprintf(s->out, ",rail=\"%u\"} %g\n", r + 1u, u16(s->image, reg, r) / of);
    }
}

static void answer_samples(const struct sample *s, const char *family)
{
    drive_samples(s, family, KR_REG_DRIVE_LONGEST_ANSWER, 1000);
}

static void lost_samples(const struct sample *s, const char *family)
{
    drive_samples(s, family, KR_REG_DRIVE_ANSWERS_LOST, 1);
}

static void retry_samples(const struct sample *s, const char *family)
{
    drive_samples(s, family, KR_REG_DRIVE_RETRIES, 1);
}

static void link_samples(const struct sample *s, const char *family)
{
    drive_samples(s, family, KR_REG_DRIVE_LINKS_LOST, 1);
}

static void metre_samples(const struct sample *s, const char *family)
{
    for (uint16_t r = 0; r < kr_get_rails(s->image); r++)
        for (uint16_t i = 0; i < kr_get_holders(s->image, r); i++) {
            begin(s, family);
            fprintf(s->out, ",rail=\"%u\",holder=\"%u\"} %" PRIu32 "\n", r + 1u, i + 1u,
                    (uint32_t)kr_get_i32(s->image, KR_REG_HOLDER_METRES, r, i));
        }
}

/* Writes a sample for every holder that cuts and is measured, in metres, the base unit of the format. */
static void placement_samples(const struct sample *s, const char *family)
{
    for (uint16_t r = 0; r < kr_get_rails(s->image); r++)
        for (uint16_t i = 0; i < kr_get_holders(s->image, r); i++) {
            if (kr_get_u16(s->image, KR_REG_HOLDER_CUT, r, i) == 0 ||
                kr_get_u16(s->image, KR_REG_HOLDER_KNOWN, r, i) != KR_MEASURED)
                continue;
            begin(s, family);
            fprintf(s->out, ",rail=\"%u\",holder=\"%u\"} %g\n", r + 1u, i + 1u,
                    kr_get_um(s->image, KR_REG_HOLDER_DEVIATION, r, i) / 1e6);
        }
}

static void changeover_samples(const struct sample *s, const char *family)
{
    static const struct {
        enum kr_reg reg;
        const char *what;
    } times[] = {{KR_REG_RECORD_PLANNED, "moves planned"},
                 {KR_REG_RECORD_ACTUAL, "moves"},
                 {KR_REG_RECORD_TOLD, "whole planned"},
                 {KR_REG_RECORD_TOTAL, "whole"}};
    for (size_t i = 0; i < sizeof times / sizeof times[0] && u16(s->image, KR_REG_RECORD_NUMBER, 0) != 0; i++) {
        begin(s, family);
        fprintf(s->out, ",part=\"%s\"} %g\n", times[i].what, kr_get_i32(s->image, times[i].reg, 0, 0) / 1000.0);
    }
}

static const struct {
    const char *family, *type, *help;
    void (*samples)(const struct sample *s, const char *family);
} families[] = {
    {"state", "gauge", "1 for the state that the unit is in, 0 for every other one.", state_samples},
    {"state_seconds_total", "counter", "Time in each state of the unit since the gateway's start.", state_time_samples},
    {"line_signal", "gauge", "Signals to the line; none of them is a safety function.", line_samples},
    {"status", "gauge", "Status bits.", status_samples},
    {"alarm_age_seconds", "gauge", "Time since each standing alarm was raised.", alarm_samples},
    {"overruns_total", "counter", "Cycles that began late by more than a period.", overrun_samples},
    {"own_gap_seconds", "gauge", "The longest time without a cycle since the gateway's start.", gap_samples},
    {"drive_longest_answer_seconds", "gauge", "The longest time that an answer of each rail's drive took.",
     answer_samples},
    {"drive_answers_lost_total", "counter",
     "Requests to each rail's drive without a good answer; the count ends at 65535.", lost_samples},
    {"drive_retries_total", "counter", "Requests to each rail's drive that were repeated; the count ends at 65535.",
     retry_samples},
    {"drive_links_lost_total", "counter", "Links to each rail's drive that were lost; the count ends at 65535.",
     link_samples},
    {"knife_metres", "gauge", "Metres that each knife has cut since its regrind or swap.", metre_samples},
    {"placement_metres", "gauge", "Measured position minus target of each holder that cuts.", placement_samples},
    {"changeover_seconds", "gauge", "Times of the last changeover.", changeover_samples},
};
#define N_FAMILIES (sizeof families / sizeof families[0])

static void answering(FILE *out, const struct watch_view views[], int n)
{
    fprintf(out, "# HELP kniferail_answers 1 while the station answers.\n# TYPE kniferail_answers gauge\n");
    for (int i = 0; i < n; i++)
        fprintf(out, "kniferail_answers{station=\"%d\"} %d\n", i + 1, views[i].answers);
}

/* Figures of a station that does not answer are left out, because they would seem to be current. */
static void write_all(FILE *out, const struct watch_view views[], const struct kr_image images[], int n)
{
    answering(out, views, n);
    for (size_t f = 0; f < N_FAMILIES; f++) {
        fprintf(out, "# HELP kniferail_%s %s\n# TYPE kniferail_%s %s\n", families[f].family, families[f].help,
                families[f].family, families[f].type);
        for (int i = 0; i < n; i++) {
            struct sample sample = {.out = out, .image = &images[i], .number = i + 1};
            if (!views[i].answers)
                continue;
            kr_get_text(&images[i], KR_REG_STATION_NAME, sample.name, sizeof sample.name);
            families[f].samples(&sample, families[f].family);
        }
    }
}

char *metrics_text(const struct panel *panel, size_t *size)
{
    char *text = NULL;
    int n = panel->n_stations;
    struct watch_view views[PANEL_STATIONS_MAX];
    struct kr_image *images = calloc((size_t)n, sizeof *images);
    FILE *out = images == NULL ? NULL : open_memstream(&text, size);
    if (out == NULL) {
        free(images);
        return NULL;
    }
    for (int i = 0; i < n; i++) {
        views[i].image = &images[i];
        watch_look(panel->station[i], &views[i]);
        watch_let_go(&views[i]);
    }
    write_all(out, views, images, n);
    bool whole = !ferror(out);
    if (fclose(out) != 0 || !whole) {
        free(text);
        text = NULL;
    }
    free(images);
    return text;
}
