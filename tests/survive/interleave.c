/* Every interleaving, within a stated bound: breadth first over what may happen to a station, from several beginnings,
 * each distinct state once. The station and its planner are the real ones; in every cycle every invariant of judge.c is
 * looked at. The shortest way to a broken one is printed.
 *
 *     interleave [states]   how many distinct states each search may visit; it ends before that if there are no more
 *
 * States that lie at the bound's depth are visited and judged, not left. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "actions.h"

/* ---- states, packed: what differs from the first one, in runs of words ----------------------------------------- */

typedef uint64_t word;
#define WORDS ((sizeof(struct world) + sizeof(word) - 1) / sizeof(word))

union image {
    struct world world;
    word at[WORDS];
};

static union image base;

struct packed {
    uint32_t n;
    word at[]; /* position << 32 | length, then so many words, and again */
};

static void *allocated(size_t size)
{
    void *memory = malloc(size);
    if (memory == NULL) {
        fprintf(stderr, "no memory\n");
        exit(2);
    }
    return memory;
}

static struct packed *pack(const union image *image)
{
    static word buffer[2 * WORDS + 2];
    uint32_t n = 0;
    for (size_t i = 0; i < WORDS;) {
        if (image->at[i] == base.at[i]) {
            i++;
            continue;
        }
        size_t from = i;
        while (i < WORDS && image->at[i] != base.at[i])
            i++;
        buffer[n++] = (word)from << 32 | (i - from);
        memcpy(&buffer[n], &image->at[from], (i - from) * sizeof(word));
        n += (uint32_t)(i - from);
    }
    struct packed *packed = allocated(sizeof *packed + n * sizeof(word));
    packed->n = n;
    memcpy(packed->at, buffer, n * sizeof(word));
    return packed;
}

static void unpack(const struct packed *packed, union image *image)
{
    *image = base;
    for (uint32_t i = 0; i < packed->n;) {
        size_t from = packed->at[i] >> 32, n = packed->at[i] & 0xFFFFFFFFu;
        memcpy(&image->at[from], &packed->at[i + 1], n * sizeof(word));
        i += 1 + (uint32_t)n;
    }
}

/* ---- what was visited ------------------------------------------------------------------------------------------ */

#define SAMPLES 4096 /* of states kept for the check of the key */

struct visited {
    uint64_t key;
    uint32_t number; /* of the state, from 1; 0: the slot is free */
};

struct state {
    uint32_t parent;
    uint16_t action, depth;
    struct packed *packed; /* NULL once it was left */
};

struct search {
    const char *name;
    unsigned groups;
    size_t n_slots;
    struct visited *slot;
    uint32_t n, next, most; /* states visited, the next to be left, bound */
    struct state *state;
    long transitions, cycles;
    long compared, unlike; /* pairs of states that the key calls one, and those of them that then differed */
    struct {
        uint64_t key;
        struct packed *packed;
    } sample[SAMPLES];
};

static struct visited *slot_of(struct search *search, uint64_t key)
{
    size_t i = key & (search->n_slots - 1);
    while (search->slot[i].number != 0 && search->slot[i].key != key)
        i = (i + 1) & (search->n_slots - 1);
    return &search->slot[i];
}

static void add_state(struct search *search, struct visited *slot, uint64_t key, const union image *image,
                      uint32_t parent, int action)
{
    struct state *state = &search->state[++search->n];
    *slot = (struct visited){key, search->n};
    *state = (struct state){.parent = parent,
                            .action = (uint16_t)action,
                            .depth = (uint16_t)(parent != 0 ? search->state[parent].depth + 1 : 0),
                            .packed = pack(image)};
    if (search->sample[key % SAMPLES].packed == NULL) {
        search->sample[key % SAMPLES].packed = pack(image);
        search->sample[key % SAMPLES].key = key;
    }
}

/* ---- telling --------------------------------------------------------------------------------------------------- */

static void print_way(const struct search *search, uint32_t number)
{
    if (search->state[number].parent == 0)
        return;
    print_way(search, search->state[number].parent);
    printf("    %s\n", actions[search->state[number].action].name);
}

static void print_broken(const struct search *search, const struct state *from, uint32_t number, int action,
                         const char *invariant)
{
    printf("FAILED  %s: %s\n    not so after %d steps:\n", search->name, invariant, from->depth + 1);
    print_way(search, number);
    printf("    %s\n", actions[action].name);
}

/* ---- the key, held against what it stands for ------------------------------------------------------------------ */

static bool alike(const struct search *search, const union image *a, const union image *b)
{
    static union image x, y;
    for (int i = 0; i < n_actions; i++) {
        if (!(actions[i].group & search->groups))
            continue;
        x = *a;
        y = *b;
        bool could = actions[i].apply(&x.world);
        if (could != actions[i].apply(&y.world) || (could && world_key(&x.world) != world_key(&y.world))) {
            printf("    the key calls two states one that '%s' tells apart\n", actions[i].name);
            return false;
        }
    }
    return true;
}

/* One in so many of the states that were met again. */
static void sample_key(struct search *search, uint64_t key, const union image *image)
{
    static union image other;
    if (search->transitions % 61 != 0 || search->sample[key % SAMPLES].key != key ||
        search->sample[key % SAMPLES].packed == NULL)
        return;
    unpack(search->sample[key % SAMPLES].packed, &other);
    search->compared++;
    search->unlike += !alike(search, image, &other);
}

/* ---- the search ------------------------------------------------------------------------------------------------ */

/* False: an invariant is broken, and told. */
static bool leave(struct search *search, uint32_t number, const union image *from)
{
    static union image to;
    for (int i = 0; i < n_actions && search->n < search->most; i++) {
        if (!(actions[i].group & search->groups))
            continue;
        to = *from;
        if (!actions[i].apply(&to.world))
            continue;
        search->transitions++;
        if (to.world.broken != NULL) {
            print_broken(search, &search->state[number], number, i, to.world.broken);
            return false;
        }
        uint64_t key = world_key(&to.world);
        struct visited *slot = slot_of(search, key);
        if (slot->number == 0)
            add_state(search, slot, key, &to, number, i);
        else
            sample_key(search, key, &to);
    }
    return true;
}

static void open_search(struct search *search, const char *name, unsigned groups, uint32_t most,
                        const union image *root)
{
    memset(search, 0, sizeof *search);
    search->name = name;
    search->groups = groups;
    search->most = most;
    for (search->n_slots = 1024; search->n_slots < 2 * (size_t)most;)
        search->n_slots *= 2;
    search->slot = allocated(search->n_slots * sizeof *search->slot);
    memset(search->slot, 0, search->n_slots * sizeof *search->slot);
    search->state = allocated(((size_t)most + 2) * sizeof *search->state);
    base = *root;
    uint64_t key = world_key(&root->world);
    add_state(search, slot_of(search, key), key, root, 0, 0);
}

static void close_search(struct search *search)
{
    for (uint32_t i = search->next; i <= search->n; i++)
        free(search->state[i].packed);
    for (size_t i = 0; i < SAMPLES; i++)
        free(search->sample[i].packed);
    free(search->state);
    free(search->slot);
}

static bool run_search(const char *name, unsigned groups, uint32_t most, const union image *root)
{
    static struct search search;
    static union image from;
    open_search(&search, name, groups, most, root);
    clock_t began = clock();
    bool good = true;
    for (search.next = 1; good && search.next <= search.n && search.n < most; search.next++) {
        unpack(search.state[search.next].packed, &from);
        free(search.state[search.next].packed);
        search.state[search.next].packed = NULL;
        good = leave(&search, search.next, &from);
    }
    bool closed = good && search.next > search.n;
    int whole = closed ? search.state[search.n].depth : search.state[search.next].depth;
    printf("%-52s %7u states, %8ld steps taken, %s depth %d, key checked %ld times, %.1f s\n", name, search.n,
           search.transitions, closed ? "closed at" : "complete to", whole, search.compared,
           (double)(clock() - began) / CLOCKS_PER_SEC);
    bool sound = search.unlike == 0;
    if (!sound)
        printf("FAILED  %s: the key leaves something out, %ld times of %ld\n", name, search.unlike, search.compared);
    close_search(&search);
    return good && sound;
}

/* ---- beginnings ------------------------------------------------------------------------------------------------ */

static void run_actions(union image *image, const char *const names[])
{
    for (; *names != NULL; names++) {
        bool found = false;
        for (int i = 0; i < n_actions; i++) {
            if (strcmp(actions[i].name, *names) != 0)
                continue;
            found = actions[i].apply(&image->world);
        }
        world_cycle(&image->world);
        if (!found || image->world.broken != NULL) {
            printf("FAILED  a beginning: '%s': %s\n", *names,
                   image->world.broken != NULL ? image->world.broken : "not possible");
            exit(1);
        }
    }
}

/* Time passes, commits succeed and plans come until the unit is in that state. */
static void run_until(union image *image, enum kr_unit_state state, enum kr_carriage_phase phase)
{
    struct world *w = &image->world;
    for (int i = 0; i < 4000; i++) {
        bool there =
            w->station.unit.state == state && (phase == KR_CARRIAGE_OFF || w->station.rails.motion[0].phase == phase);
        if (there && !w->station.intake.step && !w->station.editing.step && !w->busy)
            return;
        w->answered = w->busy;
        w->answered_well = true;
        w->plan_done = w->planning;
        w->ledger_answers = w->knife_waits && !w->busy;
        world_cycle(w);
        if (w->broken != NULL) {
            printf("FAILED  a beginning: %s\n", w->broken);
            exit(1);
        }
    }
    printf("FAILED  a beginning: unit state %d, not %d\n", (int)w->station.unit.state, (int)state);
    for (int i = 0; i < w->station.alarms.n; i++)
        printf("    alarm %u item %u value %d\n", w->station.alarms.at[i].code, w->station.alarms.at[i].item,
               (int)w->station.alarms.at[i].value);
    exit(1);
}

static const char *const stage_a[] = {"stage A", NULL}, *const stage_b[] = {"stage B", NULL},
                         *const reset[] = {"Reset", NULL}, *const start[] = {"Start changeover", NULL};

static void begin_cold(union image *image)
{
    memset(image, 0, sizeof *image);
    world_init(&image->world);
    run_until(image, KR_STATE_STOPPED, KR_CARRIAGE_OFF);
}

static void begin_staged(union image *image)
{
    begin_cold(image);
    run_actions(image, reset);
    run_until(image, KR_STATE_IDLE, KR_CARRIAGE_OFF);
    run_actions(image, stage_a);
    run_until(image, KR_STATE_IDLE, KR_CARRIAGE_OFF);
}

static void begin_dragging(union image *image)
{
    begin_staged(image);
    run_actions(image, start);
    run_until(image, KR_STATE_EXECUTE, KR_CARRIAGE_DRAGGING);
}

/* One order set up and verified, the next one staged. */
static void begin_complete(union image *image)
{
    begin_staged(image);
    run_actions(image, start);
    run_until(image, KR_STATE_COMPLETE, KR_CARRIAGE_OFF);
    run_actions(image, stage_b);
    run_until(image, KR_STATE_COMPLETE, KR_CARRIAGE_OFF);
}

/* The line may be started, and that is stored with the count. */
static void begin_counted(union image *image)
{
    static const char *const counts[] = {"the PLC counts accesses", NULL};
    begin_complete(image);
    run_actions(image, counts);
    run_until(image, KR_STATE_COMPLETE, KR_CARRIAGE_OFF);
    if (!(image->world.station.line.status & KR_LINE_MAY_START) || image->world.disk.proof[0] == 0) {
        printf("FAILED  a beginning: the line may not be started, or that is not stored\n");
        exit(1);
    }
}

/* One holder at the grinder's, the guards still open. */
static void begin_ground(union image *image)
{
    static const char *const taken_off[] = {"guards open or close", "a holder is taken off the rail or put on",
                                            "it is declared absent or inserted", NULL};
    begin_complete(image);
    run_actions(image, taken_off);
    run_until(image, KR_STATE_COMPLETE, KR_CARRIAGE_OFF);
}

/* A knife of the ledger is on the first holder. */
static void begin_mounted(union image *image)
{
    static const char *const mounts[] = {"mount knife A", NULL};
    begin_complete(image);
    run_actions(image, mounts);
    run_until(image, KR_STATE_COMPLETE, KR_CARRIAGE_OFF);
    if (image->world.ledger.place[0] != KR_KNIFE_HOLDER) {
        printf("FAILED  a beginning: knife A is not mounted\n");
        exit(1);
    }
}

static void begin_proposed(union image *image)
{
    static const char *const cut[] = {"test cut", NULL};
    begin_complete(image);
    run_actions(image, cut);
    run_until(image, KR_STATE_COMPLETE, KR_CARRIAGE_OFF);
}

static void begin_jogging(union image *image)
{
    static const char *const jog[] = {"Start jog", NULL}, *const on[] = {"jog refresh", "jog refresh", NULL};
    begin_staged(image);
    run_actions(image, jog);
    run_until(image, KR_STATE_EXECUTE, KR_CARRIAGE_JOGGING);
    run_actions(image, on);
}

/* The drive has come back with another word order, and nobody compares where its carriage rested: what it shows against
 * its travel has to be enough. */
static void begin_swapped(union image *image)
{
    static const char *const exchanged[] = {"the drive's link is lost or back",
                                            "the drive comes back with the other word order", NULL};
    begin_staged(image);
    image->world.drifts = true;
    image->world.station.config.carriage[0].drift_um = 0;
    run_actions(image, exchanged);
}

int main(int argc, char *argv[])
{
    static union image image;
    uint32_t most = argc > 1 ? (uint32_t)strtoul(argv[1], NULL, 10) : 20000;
    unsigned all = ~0u, handshake = GROUP_ALWAYS | GROUP_CUTS | GROUP_FAILURES | GROUP_ORDERS | GROUP_HANDSHAKE;
    unsigned job = GROUP_ALWAYS | GROUP_CUTS | GROUP_FAILURES | GROUP_ORDERS | GROUP_JOB;
    unsigned maintenance = GROUP_ALWAYS | GROUP_CUTS | GROUP_FAILURES | GROUP_EDITS | GROUP_JOB;
    unsigned disk = GROUP_ALWAYS | GROUP_CUTS | GROUP_FAILURES;
    unsigned recipes = disk | GROUP_ORDERS | GROUP_RECIPES | GROUP_HANDSHAKE;
    unsigned grinder = disk | GROUP_HANDS | GROUP_JOB, strips = disk | GROUP_TEST_CUTS | GROUP_EDITS | GROUP_JOB;
    unsigned halts = disk | GROUP_HALTS | GROUP_JOB | GROUP_COMMANDS;
    unsigned jog = disk | GROUP_JOG | GROUP_JOB | GROUP_MACHINE;
    unsigned storms = GROUP_ALWAYS | GROUP_STORMS | GROUP_JOB;
    unsigned signals = disk | GROUP_SIGNALS | GROUP_MACHINE;
    unsigned knives = disk | GROUP_KNIVES;
    bool good = true;
    setvbuf(stdout, NULL, _IOLBF, 0); /* a long run is watched */
    printf("a world of %zu bytes, %d things that may happen\n", sizeof(struct world), n_actions);
    begin_cold(&image);
    good = run_search("the handshake alone, from a cold start", handshake, most, &image) && good;
    begin_cold(&image);
    good = run_search("everything, from a cold start", all, most, &image) && good;
    begin_staged(&image);
    good = run_search("everything, from Idle with an order staged", all, most, &image) && good;
    begin_staged(&image);
    good = run_search("orders, jobs and the disk, from Idle", job, most, &image) && good;
    begin_dragging(&image);
    good = run_search("everything, from the middle of a drag", all, most, &image) && good;
    begin_complete(&image);
    good = run_search("maintenance and the disk, from Complete", maintenance, most, &image) && good;
    begin_cold(&image);
    good = run_search("recipes and the disk, from a cold start", recipes, most, &image) && good;
    begin_complete(&image);
    good = run_search("hands and the disk, from Complete", grinder, most, &image) && good;
    begin_ground(&image);
    good = run_search("hands and the disk, a holder at the grinder's", grinder, most, &image) && good;
    begin_mounted(&image);
    good = run_search("knives of the ledger and the disk, one mounted", knives, most, &image) && good;
    begin_complete(&image);
    good = run_search("knives, other requests, jobs and the disk", knives | maintenance, most, &image) && good;
    begin_proposed(&image);
    good = run_search("test cuts and the disk, offsets proposed", strips, most, &image) && good;
    begin_jogging(&image);
    good = run_search("hold-to-run and the machine, from a jog", jog, most, &image) && good;
    begin_dragging(&image);
    good = run_search("halts, commands and the disk, from a drag", halts, most, &image) && good;
    begin_staged(&image);
    good = run_search("halts, commands and the disk, from Idle", halts, most, &image) && good;
    begin_staged(&image);
    good = run_search("storms, jobs and the machine, from Idle", storms | GROUP_MACHINE, most, &image) && good;
    begin_dragging(&image);
    good = run_search("storms and jobs, from a drag", storms, most, &image) && good;
    begin_swapped(&image);
    good = run_search("storms and jobs, from a drive with another word order", storms, most, &image) && good;
    begin_counted(&image);
    good = run_search("line signals, hands and the disk, from a line that runs", signals, most, &image) && good;
    begin_complete(&image);
    good = run_search("everything, from Complete with the next one staged", all, most, &image) && good;
    return good ? EXIT_SUCCESS : EXIT_FAILURE;
}
