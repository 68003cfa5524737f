/* Takes the planner at its word: what it advises when it refuses is read from the sentence, done to the request, and
 * planned again. An order can have more than one fault, and they are told one by one; in the end it is planned, or
 * what is advised is nothing that a request can have done to it, or one fault's cure is another's cause. No fault
 * comes back that was mended as advised. Arguments: cases, seed, most holders. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "kniferail/plan.h"
#include "plan_cases.h"

#define ROUNDS 40 /* more faults than so few holders and slits can have */

struct tally {
    unsigned long long solved, other, again;
};

static int64_t nm_of(double mm)
{
    return llround(mm * 1e6);
}

static bool put_in_service(struct kr_plan_request *q, int more)
{
    for (int i = 0; i < q->geometry.rail[0].n_holders && more > 0; i++) {
        if (q->rail[0].holder[i].state == KR_HOLDER_IN)
            continue;
        q->rail[0].holder[i].state = KR_HOLDER_IN;
        more--;
    }
    return more == 0;
}

/* The web grows by as much, so that the trims stay. */
static bool widen(struct kr_plan_request *q, unsigned slit, int64_t nm)
{
    q->order.width_nm[slit - 1] += nm + nm / 50; /* a web that gives must be told more: least compensation -2 % */
    q->order.web_width_nm += nm + nm / 50;
    return true;
}

static bool leave_more(struct kr_plan_request *q, int64_t nm, bool operator_edge)
{
    q->order.web_width_nm += 2 * nm; /* a centred web grows at both edges */
    if (operator_edge && q->order.alignment == KR_FROM_OPERATOR_EDGE)
        q->order.trim_nm += nm;
    return true;
}

/* Does what the sentence says. False if it is about something that a request can't have done to it. */
static bool follow(struct kr_plan_request *q, const struct kr_result *r, const char *text)
{
    unsigned item;
    int more;
    double mm;
    char side[16];
    if (r->code == KR_TOO_FEW_HOLDERS && strstr(text, "in service") != NULL)
        return sscanf(text, "%d more", &more) == 1 && put_in_service(q, more);
    if (sscanf(text, "order %d slit", &more) == 1) {
        q->order.n_slits = (uint16_t)(q->order.n_slits > more ? q->order.n_slits - more : 0);
        return q->order.n_slits > 0;
    }
    if (sscanf(text, "make slit %u at least %lf", &item, &mm) == 2)
        return widen(q, item, nm_of(mm));
    if (sscanf(text, "shift the web %lf mm towards the %15s", &mm, side) == 2) {
        q->order.shift_nm += strcmp(side, "drive") == 0 ? nm_of(mm) : -nm_of(mm);
        return true;
    }
    if (sscanf(text, "free holder %u", &item) == 1) {
        q->rail[0].holder[item - 1].state = KR_HOLDER_IN;
        return true;
    }
    if (r->code == KR_NO_ROOM_FOR_IDLE) {
        q->rail[0].holder[r->item - 1].state = KR_HOLDER_ABSENT;
        return true;
    }
    if (r->code == KR_TRIM_TOO_SMALL && sscanf(text, "leave %lf", &mm) == 1)
        return leave_more(q, nm_of(mm), r->item == 1);
    return false;
}

/* True if the request was refused, and the advice could be followed: *r is what comes of it. */
static bool advise(struct kr_plan_request *q, void *workspace, struct kr_result *r, char text[], size_t size)
{
    static struct kr_plan plan;
    kr_plan_advice(q, r, KR_LENGTH_MM, text, size);
    if (!follow(q, r, text))
        return false;
    *r = kr_plan_make(q, workspace, &plan);
    return true;
}

static bool is_same(const struct kr_result *a, const struct kr_result *b)
{
    return a->code == b->code && a->rail == b->rail && a->item == b->item && a->value == b->value &&
           a->limit == b->limit;
}

/* One fault after the other is mended, until it's planned, or there is nothing more to follow. */
static void one(uint64_t seed, int most, void *workspace, struct tally tally[])
{
    static struct kr_plan_request q;
    static struct kr_plan plan;
    char text[300];
    cases_any(seed, most, &q);
    q.geometry.n_rails = 1;
    struct kr_result first = kr_plan_make(&q, workspace, &plan), r = first;
    for (int round = 0; r.code != KR_OK && round <= ROUNDS; round++) {
        struct kr_result before = r;
        if (!advise(&q, workspace, &r, text, sizeof text)) {
            tally[first.code].other += round > 0;
            return;
        }
        if (round < ROUNDS && !is_same(&before, &r))
            continue;
        if (before.code != r.code) { /* more holders, and fewer: it doesn't fit at all */
            tally[first.code].other++;
            return;
        }
        tally[first.code].again++;
        printf("seed %llu: refused again after: %s\n", (unsigned long long)seed, text);
        return;
    }
    tally[first.code].solved += first.code != KR_OK;
}

int main(int argc, char **argv)
{
    uint64_t cases = argc > 1 ? strtoull(argv[1], NULL, 10) : 2000;
    uint64_t seed = argc > 2 ? strtoull(argv[2], NULL, 10) : 1;
    int most = argc > 3 ? atoi(argv[3]) : 6;
    struct tally tally[100] = {0};
    unsigned long long followed = 0, again = 0;
    void *workspace = malloc(kr_plan_workspace_size());
    if (workspace == NULL)
        return 2;
    printf("%llu cases from seed %llu, up to %d holders\n", (unsigned long long)cases, (unsigned long long)seed, most);
    for (uint64_t i = 0; i < cases; i++)
        one(seed + i, most, workspace, tally);
    for (int code = 0; code < 100; code++) {
        const struct tally *t = &tally[code];
        followed += t->solved + t->other + t->again;
        again += t->again;
        if (t->solved + t->other + t->again > 0)
            printf("  %-20s advice followed: planned %llu, refused for something else %llu, refused again "
                   "%llu\n",
                   kr_code_info(code)->name, t->solved, t->other, t->again);
    }
    free(workspace);
    return again == 0 && followed > 0 ? 0 : 1;
}
