/* Plans stay as good as they have been: held against the least times known, tests/reference/data/plan_best.csv. Of 12
 * holders every plan is as quick; of more, as near as the limits below say, each rail and on average. And no bound is
 * above a time that is known to be possible. Argument: the file. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "kniferail/plan.h"
#include "plan_checker.h"
#include "plan_rails.h"

static const struct limit {
    int holders;
    double mean, worst;
} limits[] = {{12, 1.0, 1.0}, {40, 1.0005, 1.003}, {64, 1.001, 1.0031}, {100, 1.001, 1.005}, {128, 1.001, 1.005}};

#define SIZES (sizeof limits / sizeof *limits)

struct tally {
    int n;
    double sum, worst;
};

static int family_named(const char *name)
{
    for (int f = 0; f < RAILS_FAMILIES; f++) {
        if (strcmp(rails_name[f], name) == 0)
            return f;
    }
    return -1;
}

/* Time over the least known; below 0 if there is no sound plan. */
static double ratio_of(const struct kr_plan_request *q, void *workspace, long long known_us)
{
    static struct kr_plan plan;
    struct kr_result result = kr_plan_make(q, workspace, &plan);
    const char *bad = result.code == KR_OK ? plan_checker(q, &plan) : "refused";
    if (bad == NULL && plan.bound_us > known_us)
        bad = "its bound is above a time that is possible";
    if (bad != NULL) {
        printf("    %s\n", bad);
        return -1;
    }
    return known_us > 0 ? (double)plan.time_us / (double)known_us : 1;
}

/* One line of the file: holders,family,profile,seed,time_us. */
struct known {
    int family;
    long long number[5]; /* by column */
};

static bool read_line(char *line, struct known *k)
{
    for (int column = 0; column < 5; column++) {
        char *end = line + strcspn(line, ",\n"), *past;
        bool last = *end != ',';
        *end = '\0';
        k->number[column] = strtoll(line, &past, 10);
        if (column == 1)
            k->family = family_named(line);
        else if (past == line || *past != '\0')
            return false;
        if (last != (column == 4))
            return false;
        line = end + 1;
    }
    return k->family >= 0;
}

static const struct limit *limit_for(long long holders)
{
    for (size_t s = 0; s < SIZES; s++) {
        if (limits[s].holders == holders)
            return &limits[s];
    }
    return NULL;
}

/* False: the line can't be read, or its plan isn't good enough. */
static bool judge(char *line, void *workspace, struct tally tally[])
{
    static struct kr_plan_request q;
    struct known k = {.family = -1};
    const struct limit *limit = read_line(line, &k) ? limit_for(k.number[0]) : NULL;
    if (limit == NULL || !rails_make(k.family, limit->holders, (int)k.number[2], (uint64_t)k.number[3], &q)) {
        printf("no rail: %s\n", line);
        return false;
    }
    double ratio = ratio_of(&q, workspace, k.number[4]);
    struct tally *t = &tally[limit - limits];
    t->n++;
    t->sum += ratio;
    t->worst = ratio > t->worst ? ratio : t->worst;
    if (ratio >= 0 && ratio <= limit->worst)
        return true;
    printf("%d holders, %s, profile %lld, seed %lld: %.5f of the least known, limit %.3f\n", limit->holders,
           rails_name[k.family], k.number[2], k.number[3], ratio, limit->worst);
    return false;
}

static bool judge_all(FILE *file, void *workspace, struct tally tally[])
{
    char line[120];
    bool good = true;
    while (fgets(line, sizeof line, file) != NULL) {
        if (line[0] >= '0' && line[0] <= '9' && !judge(line, workspace, tally))
            good = false;
    }
    for (size_t s = 0; s < SIZES; s++) {
        double mean = tally[s].n > 0 ? tally[s].sum / tally[s].n : 2;
        printf("%3d holders: %3d rails, mean %.6f, worst %.6f of the least known\n", limits[s].holders, tally[s].n,
               mean, tally[s].worst);
        good = good && mean <= limits[s].mean;
    }
    return good;
}

int main(int argc, char **argv)
{
    struct tally tally[SIZES] = {{0, 0, 0}};
    const char *path = argc > 1 ? argv[1] : "tests/reference/data/plan_best.csv";
    FILE *file = fopen(path, "r");
    if (file == NULL) {
        fprintf(stderr, "plan_quality: can't open %s\n", path);
        return 2;
    }
    void *workspace = malloc(kr_plan_workspace_size());
    bool good = workspace != NULL && judge_all(file, workspace, tally);
    free(workspace);
    fclose(file);
    return good ? 0 : 1;
}
