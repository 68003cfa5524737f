#include "sim/command.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "kniferail/drivemap.h"

#define WORDS_MAX 16

struct command {
    struct sim_machine *machine;
    char line[SIM_COMMAND_MAX + 1];
    char *word[WORDS_MAX];
    int n;
    char *answer;
    size_t length;
};

__attribute__((format(printf, 2, 3))) static void say(struct command *c, const char *format, ...)
{
    size_t room = SIM_ANSWER_MAX - c->length;
    va_list args;
    va_start(args, format);
    int n = vsnprintf(c->answer + c->length, room, format, args);
    va_end(args);
    if (n > 0)
        c->length += (size_t)n < room ? (size_t)n : room - 1;
}

static bool split(struct command *c, const char *line)
{
    if (strlen(line) > SIM_COMMAND_MAX)
        return false;
    memcpy(c->line, line, strlen(line) + 1);
    char *rest = c->line;
    for (char *word = strtok_r(rest, " \t\r\n", &rest); word; word = strtok_r(NULL, " \t\r\n", &rest)) {
        if (c->n == WORDS_MAX)
            return false;
        c->word[c->n++] = word;
    }
    return true;
}

static bool number_of(const char *word, long least, long most, long *number)
{
    char *end;
    errno = 0;
    *number = strtol(word, &end, strncmp(word, "0x", 2) == 0 ? 16 : 10); /* drive manuals write codes in hexadecimal */
    return errno == 0 && end != word && *end == 0 && *number >= least && *number <= most;
}

/* ---- break and mend ------------------------------------------------------------------------------------ */

struct order {
    uint16_t rail, item;
    enum sim_fault fault;
    int32_t value;
};

static bool read_place(struct command *c, struct order *o)
{
    long rail;
    if (c->n < 3 || !number_of(c->word[1], 1, c->machine->config.n_rails, &rail)) {
        say(c, "a rail from 1 to %d and a fault are needed\n", c->machine->config.n_rails);
        return false;
    }
    o->rail = (uint16_t)(rail - 1);
    for (int f = 0; f < SIM_N_FAULTS; f++)
        if (strcmp(sim_fault_info((enum sim_fault)f)->name, c->word[2]) == 0) {
            o->fault = (enum sim_fault)f;
            return true;
        }
    say(c, "%s: no such fault; 'faults' lists them\n", c->word[2]);
    return false;
}

static bool read_item(struct command *c, const struct sim_fault_info *info, struct order *o, const char *word)
{
    const struct sim_rail_config *rail = &c->machine->config.rail[o->rail];
    bool of_holder = info->item == SIM_ITEM_HOLDER;
    int most = of_holder ? rail->n_holders : rail->n_references;
    long number;
    if (!word || !number_of(word, 1, most, &number)) {
        say(c, "%s: a %s from 1 to %d is needed\n", info->name, of_holder ? "holder" : "reference", most);
        return false;
    }
    o->item = (uint16_t)(number - 1);
    return true;
}

static bool read_order(struct command *c, struct order *o, bool with_value)
{
    int next = 3;
    long number;
    *o = (struct order){0};
    if (!read_place(c, o))
        return false;
    const struct sim_fault_info *info = sim_fault_info(o->fault);
    if (*sim_item_word(info->item)) {
        if (!read_item(c, info, o, c->n > next ? c->word[next] : NULL))
            return false;
        next++;
    }
    if (with_value && info->value != SIM_VALUE_NONE) {
        if (c->n <= next || !number_of(c->word[next++], info->least, info->most, &number)) {
            say(c, "%s: a value from %d to %d is needed\n", info->name, info->least, info->most);
            return false;
        }
        o->value = (int32_t)number;
    }
    if (c->n > next)
        say(c, "%s: no further word is needed\n", c->word[next]);
    return c->n == next;
}

static bool do_break(struct command *c)
{
    struct order o;
    if (!read_order(c, &o, true))
        return false;
    bool done = sim_machine_break(c->machine, o.rail, o.fault, o.item, o.value);
    say(c, done ? "broken\n" : "not possible now\n");
    return done;
}

static bool do_mend(struct command *c)
{
    struct order o;
    if (!read_order(c, &o, false))
        return false;
    bool done = sim_machine_mend(c->machine, o.rail, o.fault, o.item);
    say(c, done ? "mended\n" : "not possible now\n");
    return done;
}

/* ---- the others ---------------------------------------------------------------------------------------- */

static bool set_one_input(struct command *c, char *word, uint16_t *inputs)
{
    char *equals = strchr(word, '=');
    for (unsigned bit = 8; equals && bit < KR_N_INPUT_SIGNALS; bit++) {
        size_t length = (size_t)(equals - word);
        if (strncmp(kr_input_signal(bit), word, length) != 0 || kr_input_signal(bit)[length] != 0)
            continue;
        if (strcmp(equals + 1, "0") == 0)
            *inputs &= (uint16_t) ~(1u << bit);
        else if (strcmp(equals + 1, "1") == 0)
            *inputs |= (uint16_t)(1u << bit);
        else
            break;
        return true;
    }
    say(c, "%s: NAME=0 or NAME=1 is needed, of", word);
    for (unsigned bit = 8; bit < KR_N_INPUT_SIGNALS; bit++)
        say(c, " %s", kr_input_signal(bit));
    say(c, "\n");
    return false;
}

static bool do_inputs(struct command *c)
{
    uint16_t inputs = c->machine->inputs;
    for (int i = 1; i < c->n; i++)
        if (!set_one_input(c, c->word[i], &inputs))
            return false;
    sim_machine_set_inputs(c->machine, inputs);
    for (unsigned bit = 8; bit < KR_N_INPUT_SIGNALS; bit++)
        say(c, "%s%s=%d", bit == 8 ? "" : " ", kr_input_signal(bit), inputs >> bit & 1);
    say(c, "\n");
    return true;
}

static void show_faults(struct command *c, uint16_t rail)
{
    for (int f = 0; f < SIM_N_FAULTS; f++)
        if (sim_machine_broken(c->machine, rail, (enum sim_fault)f))
            say(c, ", %s", sim_fault_info((enum sim_fault)f)->name);
    say(c, "\n");
}

static void show_incident(struct command *c, const char *what, const struct sim_incident *i)
{
    if (i)
        say(c, "%s: %u, the first on rail %u, holder %u, after %.3f s\n", what, (unsigned)i->count, i->rail_index + 1u,
            i->holder_index + 1u, (double)i->at_us * 1e-6);
}

static bool do_show(struct command *c)
{
    const struct sim_machine *m = c->machine;
    for (uint16_t r = 0; r < m->config.n_rails; r++) {
        int docked = sim_machine_docked(m, r);
        say(c, "rail %u: %s, carriage at %.3f mm", r + 1u, sim_phase_name(sim_machine_phase(m, r)),
            sim_machine_carriage_um(m, r) / 1000.0);
        if (docked != SIM_NOBODY)
            say(c, ", holder %d", docked + 1);
        show_faults(c, r);
    }
    say(c, "%.3f s, least room between bodies %.3f mm\n", (double)sim_machine_now_us(m) * 1e-6,
        sim_machine_least_gap_um(m) / 1000.0);
    show_incident(c, "COLLISIONS", sim_machine_collision(m));
    show_incident(c, "DRAGGED BY AN UNSEATED PIN", sim_machine_dragged(m));
    return true;
}

/* Tells the true positions of the holders, which no master knows. */
static bool do_holders(struct command *c)
{
    const struct sim_machine *m = c->machine;
    for (uint16_t r = 0; r < m->config.n_rails; r++) {
        say(c, "rail %u:", r + 1u);
        for (uint16_t h = 0; h < m->config.rail[r].n_holders; h++)
            if (m->config.rail[r].holder[h].absent)
                say(c, " -");
            else
                say(c, " %.3f", sim_machine_holder_um(m, r, h) / 1000.0);
        say(c, "\n");
    }
    return true;
}

/* Tells what the machine has really done, for comparison with what a master believes and records. */
static bool do_counts(struct command *c)
{
    const struct sim_machine *m = c->machine;
    for (uint16_t r = 0; r < m->config.n_rails; r++) {
        say(c, "rail %u: %u set-points; let go of each holder:", r + 1u, sim_machine_setpoints(m, r));
        for (uint16_t h = 0; h < m->config.rail[r].n_holders; h++)
            say(c, " %u", sim_machine_releases(m, r, h));
        say(c, "\n");
    }
    return true;
}

static bool do_faults(struct command *c)
{
    for (int f = 0; f < SIM_N_FAULTS; f++) {
        const struct sim_fault_info *info = sim_fault_info((enum sim_fault)f);
        const char *item = sim_item_word(info->item);
        say(c, "%s%s%s%s%s: %s\n", info->name, *item ? " " : "", item, info->value == SIM_VALUE_NONE ? "" : " ",
            sim_value_word(info->value), info->what);
    }
    return true;
}

static bool do_help(struct command *c);

static const struct {
    const char *name;
    bool (*run)(struct command *c);
    const char *usage;
} commands[] = {
    {"break", do_break, "break RAIL FAULT [HOLDER] [VALUE]"},
    {"mend", do_mend, "mend RAIL FAULT [HOLDER]"},
    {"inputs", do_inputs, "inputs [NAME=0|1 ...]"},
    {"show", do_show, "show"},
    {"holders", do_holders, "holders"},
    {"counts", do_counts, "counts"},
    {"faults", do_faults, "faults"},
    {"help", do_help, "help"},
};
#define N_COMMANDS (sizeof commands / sizeof commands[0])

static bool do_help(struct command *c)
{
    for (size_t i = 0; i < N_COMMANDS; i++)
        say(c, "%s\n", commands[i].usage);
    say(c, "quit\n"); /* this command belongs to the console */
    return true;
}

bool sim_command(struct sim_machine *machine, const char *line, char answer[SIM_ANSWER_MAX])
{
    struct command c = {.machine = machine, .answer = answer};
    answer[0] = 0;
    if (!split(&c, line)) {
        say(&c, "at most %d characters and %d words are possible\n", SIM_COMMAND_MAX, WORDS_MAX);
        return false;
    }
    for (size_t i = 0; c.n > 0 && i < N_COMMANDS; i++)
        if (strcmp(commands[i].name, c.word[0]) == 0)
            return commands[i].run(&c);
    say(&c, "no such command; 'help' lists them\n");
    return false;
}
