/* kniferail set: writes maintenance requests over Modbus, as any client with the right to maintain can. */
#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "address.h"
#include "cli.h"
#include "edit_request.h"
#include "lengths.h"
#include "set_frame.h"
#include "set_knife.h"
#include "set_switch.h"
#include "set_times.h"
#include "set_view.h"

/* What follows the word: r rail, h holder, a holder or all of the rail, s size, o offset, p position, w widths, l that
 * each pair was looked at; of a frame (set_frame.h) O offset, S scale, P points; of a switch (set_switch.h) I offset, B
 * bias; of planned times (set_times.h) d dock, u undock, g set-point, j rounding;
 * behind a bar what may be left out. Of a knife (set_knife.h): k its name, K which one, n its kind, D diameter, T
 * thickness, e edge offset, m metres, t where it goes, c cause, f fragments. */
static const struct word {
    const char *name, *takes;
    enum kr_edit_kind kind;
} words[] = {
    {"offset", "rho", KR_EDIT_OFFSET},
    {"regrind", "rho", KR_EDIT_REGRIND},
    {"swap", "rhso", KR_EDIT_SWAP},
    {"size", "rhs", KR_EDIT_SIZE},
    {"in", "rh", KR_EDIT_IN},
    {"out", "rh", KR_EDIT_OUT},
    {"fixed", "rh", KR_EDIT_FIXED},
    {"absent", "rh", KR_EDIT_ABSENT},
    {"insert", "rhp", KR_EDIT_INSERT},
    {"test-cut", "w|l", KR_EDIT_TEST_CUT},
    {"test-cut-more", "w|l", KR_EDIT_TEST_CUT_MORE},
    {"apply", "", KR_EDIT_APPLY},
    {"datum", "rp", KR_EDIT_DATUM},
    {"shift", "rp", KR_EDIT_SHIFT},
    {"frame", "rOS|P", KR_EDIT_FRAME},
    {"frame-back", "r", KR_EDIT_FRAME_BACK},
    {"switch", "rIB", KR_EDIT_SWITCH},
    {"switch-back", "r", KR_EDIT_SWITCH_BACK},
    {"times", "rdugj", KR_EDIT_TIMES},
    {"times-back", "r", KR_EDIT_TIMES_BACK},
    {"bench", "ra", KR_EDIT_BENCH},
    {"feeler", "ra", KR_EDIT_FEELER},
    {"trial", "ra", KR_EDIT_TRIAL},
    {"enter", "knDT|em", KR_EDIT_ENTER},
    {"mount", "rhk|em", KR_EDIT_MOUNT},
    {"dismount", "Kt", KR_EDIT_DISMOUNT},
    {"reground", "KDT|e", KR_EDIT_REGROUND},
    {"broken", "Kcf", KR_EDIT_BROKEN},
    {"scrap", "K", KR_EDIT_SCRAP},
};
#define N_WORDS       (sizeof words / sizeof words[0])
#define ARGUMENTS_MAX 8

struct arguments {
    struct kr_address_options options;
    struct kr_client_address address;
    const struct word *word;
    const char *value[ARGUMENTS_MAX]; /* one value for each letter of word->takes */
    size_t n_values;                  /* the number of values that were given */
    char rail[16];                    /* the rail of a holder that is written as 1/3 */
};

/* ---- the command line ------------------------------------------------------------------------------------------ */

static const struct word *word_named(const char *name)
{
    for (size_t i = 0; i < N_WORDS; i++)
        if (strcmp(words[i].name, name) == 0)
            return &words[i];
    return NULL;
}

static bool is_of_holder(const struct word *word)
{
    return word->takes[0] == 'r' && (word->takes[1] == 'h' || word->takes[1] == 'a');
}

/* A holder is written as 1 3 or 1/3; the second form is converted to the first. */
static void take_values(struct arguments *a, int n, char **values)
{
    int first = 0;
    size_t digits = n > 0 ? strspn(values[0], "0123456789") : 0;
    if (digits > 0 && values[0][digits] == '/' && is_of_holder(a->word)) {
        snprintf(a->rail, sizeof a->rail, "%.*s", (int)digits, values[0]);
        a->value[0] = a->rail;
        a->value[1] = values[0] + digits + 1;
        first = 1;
    }
    a->n_values = (size_t)n + (size_t)first;
    for (int i = first; i < n && i + first < ARGUMENTS_MAX; i++)
        a->value[i + first] = values[i];
}

static int check_number_of_values(const struct word *word, size_t n)
{
    size_t least = strcspn(word->takes, "|"), most = strlen(word->takes);
    most -= least < most; /* without the bar itself */
    if (n >= least && n <= most)
        return KR_RUN;
    const char *holder = strchr(word->takes, 'K') ? "; a holder is one of them, as 1/3" : "";
    return least == most ? kr_usage("set", "'%s' takes %zu arguments%s", word->name, least, holder)
                         : kr_usage("set", "'%s' takes %zu to %zu arguments%s", word->name, least, most, holder);
}

static int read_arguments(int argc, char **argv, struct arguments *a)
{
    const struct kr_option options[] = {KR_ADDRESS_OPTIONS(a->options)};
    int i, answer = kr_read_options_before(argc, argv, options, sizeof options / sizeof options[0], &i);
    if (answer != KR_RUN)
        return answer;
    if (!kr_address_read("set", &a->options, &a->address))
        return KR_EXIT_USAGE;
    if (i == argc)
        return kr_usage("set", "the first argument has to say what is to be set");
    a->word = word_named(argv[i]);
    if (a->word == NULL)
        return kr_usage("set", "'%s' is unknown", argv[i]);
    for (int k = i + 1; k < argc; k++)
        if (strncmp(argv[k], "--", 2) == 0)
            return kr_usage("set", "%s stands behind the request '%s': write options before it", argv[k], argv[i]);
    take_values(a, argc - i - 1, &argv[i + 1]);
    return check_number_of_values(a->word, a->n_values);
}

/* ---- the block ------------------------------------------------------------------------------------------------- */

static bool put_number(struct edit_block *block, enum kr_reg reg, const char *what, const char *text, long most)
{
    long number;
    if (!kr_number("set", what, text, 1, most, &number))
        return false;
    *edit_at(block, reg, 0) = (uint16_t)number;
    return true;
}

/* Reads a number, or a name from the station's list. A wrong name can only be found when the station is asked. */
static bool put_size(struct edit_block *block, const char *text)
{
    char name[KR_SIZE_NAME_MAX], all[KR_SIZES_MAX * (KR_SIZE_NAME_MAX + 4)] = "";
    if (text[strspn(text, "0123456789")] == '\0')
        return put_number(block, KR_REG_EDIT_SIZE, "size", text, KR_SIZES_MAX);
    for (uint16_t size = 1; block->image && size <= kr_get_u16(block->image, KR_REG_SIZE_COUNT, 0, 0); size++) {
        kr_get_size_name(block->image, size, name);
        *edit_at(block, KR_REG_EDIT_SIZE, 0) = size;
        if (strcmp(name, text) == 0)
            return true;
        size_t n = strlen(all);
        snprintf(all + n, sizeof all - n, "%s\"%s\"", size > 1 ? ", " : "", name);
    }
    if (block->image)
        (void)kr_usage("set", "size '%s': the station lists no such size; its sizes are %s", text, all);
    return block->image == NULL;
}

static bool put_text_length(struct edit_block *block, enum kr_reg reg, const char *what, const char *text)
{
    int64_t nm;
    if (!length_read("set", what, text, block->format.length_unit, &nm))
        return false;
    edit_put_length(block, reg, 0, nm);
    return true;
}

static bool put_widths(struct edit_block *block, const char *text)
{
    int64_t nm[KR_SLITS_MAX];
    if (!lengths_read("set", "widths", text, block->format.length_unit, nm, KR_SLITS_MAX, &block->n_widths))
        return false;
    for (uint16_t i = 0; i < block->n_widths; i++)
        edit_put_length(block, KR_REG_EDIT_WIDTH, i, nm[i]);
    *edit_at(block, KR_REG_EDIT_WIDTH_COUNT, 0) = block->n_widths;
    return true;
}

#define PAIRS_LOOKED_AT "pairs-looked-at"

static bool put_statement(struct edit_block *block, const char *text)
{
    block->pairs_seen = strcmp(text, PAIRS_LOOKED_AT) == 0;
    if (!block->pairs_seen)
        (void)kr_usage("set", "'%s': only " PAIRS_LOOKED_AT " may stand behind the widths", text);
    return block->pairs_seen;
}

static bool put_argument(struct edit_block *block, char letter, const char *text)
{
    switch (letter) {
    case 'r': return put_number(block, KR_REG_EDIT_RAIL, "rail", text, KR_RAILS_MAX);
    case 'h': return put_number(block, KR_REG_EDIT_HOLDER, "holder", text, KR_HOLDERS_MAX);
    case 'a': return strcmp(text, "all") == 0 || put_number(block, KR_REG_EDIT_HOLDER, "holder", text, KR_HOLDERS_MAX);
    case 's': return put_size(block, text);
    case 'o': return put_text_length(block, KR_REG_EDIT_OFFSET, "offset", text);
    case 'p': return put_text_length(block, KR_REG_EDIT_POSITION, "position", text);
    case 'w': return put_widths(block, text);
    case 'l': return put_statement(block, text);
    case 'O':
    case 'S':
    case 'P': return set_frame_put(block, letter, text);
    case 'I':
    case 'B': return set_switch_put(block, letter, text);
    case 'd':
    case 'u':
    case 'g':
    case 'j': return set_times_put(block, letter, text);
    default: return set_knife_put(block, letter, text);
    }
}

static bool fill(struct edit_block *block, const struct arguments *a)
{
    *edit_at(block, KR_REG_EDIT_KIND, 0) = (uint16_t)a->word->kind;
    const char *letter = a->word->takes;
    for (size_t i = 0; i < a->n_values; i++, letter++) {
        letter += *letter == '|';
        if (!put_argument(block, *letter, a->value[i]))
            return false;
    }
    return true;
}

/* ---- its verdict ----------------------------------------------------------------------------------------------- */

static const char *advice(const struct kr_result *result, bool of_settings)
{
    if (result->code != KR_NOT_IN_THIS_STATE)
        return "";
    return of_settings ? ": this can be set only while the unit is Stopped or Idle"
                       : " (a job runs or winds down): hold or stop it first";
}

/* The state before the request of settings that are changed as a whole. */
struct before {
    struct set_view_offsets offsets; /* empty, unless the proposed offsets are set */
    struct kr_frame frame;
    struct kr_switch of_switch;
    struct kr_rail_times times;
};

static bool is_of_frame(uint16_t kind)
{
    return kind == KR_EDIT_FRAME || kind == KR_EDIT_FRAME_BACK;
}

static bool is_of_switch(uint16_t kind)
{
    return kind == KR_EDIT_SWITCH || kind == KR_EDIT_SWITCH_BACK;
}

static bool is_of_times(uint16_t kind)
{
    return kind == KR_EDIT_TIMES || kind == KR_EDIT_TIMES_BACK;
}

static bool view(struct kr_client *client, struct edit_block *block, const struct before *before)
{
    uint16_t kind = *edit_at(block, KR_REG_EDIT_KIND, 0), rail = *edit_at(block, KR_REG_EDIT_RAIL, 0);
    return set_view_accepted(client) && set_view_applied(client, &before->offsets) &&
           (!is_of_frame(kind) || set_frame_changed(client, rail, &before->frame)) &&
           (!is_of_switch(kind) || set_switch_changed(client, rail, &before->of_switch)) &&
           (!is_of_times(kind) || set_times_changed(client, rail, &before->times)) &&
           (block->n_widths > 0
                ? set_view_proposal(client, block->n_widths) && set_view_unproven(client, block->pairs_seen)
                : set_view_due(client));
}

static int tell(struct kr_client *client, struct edit_block *block, const struct before *before)
{
    char sentence[KR_SENTENCE_MAX];
    struct kr_result result = edit_result(&client->image);
    if (result.code != KR_OK) {
        uint16_t kind = *edit_at(block, KR_REG_EDIT_KIND, 0);
        kr_result_text(&result, client->image.format.length_unit, sentence, sizeof sentence);
        fprintf(stderr, "kniferail set: refused: %s%s\n", sentence,
                advice(&result, is_of_frame(kind) || is_of_switch(kind) || is_of_times(kind)));
        return KR_EXIT_REFUSED;
    }
    if (!view(client, block, before)) {
        fprintf(stderr, "kniferail set: %s\n", client->error);
        return KR_EXIT_REFUSED;
    }
    set_view_caution((enum kr_edit_kind) * edit_at(block, KR_REG_EDIT_KIND, 0));
    return kr_flushed(KR_EXIT_OK);
}

/* A proposal is deleted when it is set, so it is read before, and so are a frame, a switch and times. */
static bool ask(struct kr_client *client, struct edit_block *block, const struct arguments *a, struct before *before)
{
    return (a->word->kind != KR_EDIT_APPLY || set_view_before(client, &before->offsets)) &&
           (!is_of_frame((uint16_t)a->word->kind) ||
            set_frame_read(client, *edit_at(block, KR_REG_EDIT_RAIL, 0), &before->frame)) &&
           (!is_of_switch((uint16_t)a->word->kind) ||
            set_switch_read(client, *edit_at(block, KR_REG_EDIT_RAIL, 0), &before->of_switch)) &&
           (!is_of_times((uint16_t)a->word->kind) ||
            set_times_read(client, *edit_at(block, KR_REG_EDIT_RAIL, 0), &before->times)) &&
           edit_ask(client, block);
}

int kr_cmd_set(int argc, char **argv)
{
    static struct kr_client client;
    static struct edit_block block;
    static struct before before;
    struct arguments arguments = {.options = KR_ADDRESS_DEFAULTS};
    int answer = read_arguments(argc, argv, &arguments);
    if (answer != KR_RUN)
        return answer;
    /* A text that is not a number is refused before the station is asked. */
    block.format.length_unit = KR_LENGTH_MM;
    if (!fill(&block, &arguments))
        return KR_EXIT_USAGE;
    if (!kr_client_open(&client, &arguments.address)) {
        fprintf(stderr, "kniferail set: %s\n", client.error);
        return KR_EXIT_REFUSED;
    }
    memset(&block, 0, sizeof block);
    block.format = client.image.format;
    block.image = &client.image;
    int status = KR_EXIT_REFUSED;
    bool answered = kr_client_block(&client, KR_BLOCK_SIZES);
    if (answered && !fill(&block, &arguments))
        status = KR_EXIT_USAGE;
    else if (answered && ask(&client, &block, &arguments, &before))
        status = tell(&client, &block, &before);
    else
        fprintf(stderr, "kniferail set: %s\n", client.error);
    kr_client_close(&client);
    return status;
}
