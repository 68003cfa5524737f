/* kniferail set: maintenance's requests over Modbus, as any client with the maintain right would write them. */
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
#include "set_view.h"

const char kr_set_help[] =
    "Writes a maintenance request to a running station over Modbus/TCP and prints its verdict. It takes the "
    "maintain\n"
    "right, no control. Nothing moves by it; if the holder cuts in the order in force, 'verified' and 'line "
    "may run'\n"
    "fall until that order is set up again. While a job moves holders every request is refused: hold the "
    "job, set,\n"
    "and Unhold plans anew. RAIL and HOLDER are numbers from 1, as `kniferail status --holders` shows them.\n"
    "\n"
    "  offset RAIL HOLDER OFFSET        the edge offset was measured better\n"
    "  regrind RAIL HOLDER OFFSET       the knife is reground: metres run begin anew\n"
    "  swap RAIL HOLDER SIZE OFFSET     another knife or holder: metres and docking retries begin anew\n"
    "  size RAIL HOLDER SIZE            the holder has another size\n"
    "  in RAIL HOLDER                   back into service\n"
    "  out RAIL HOLDER                  out of service: it no longer cuts, takes room, may be moved\n"
    "  fixed RAIL HOLDER                seized: it stays where it stands\n"
    "  absent RAIL HOLDER               taken off the rail\n"
    "  insert RAIL HOLDER POSITION      on the rail again, in service, with its centre there\n"
    "  test-cut WIDTH,WIDTH,...         measured strips of the order in force from the operator side, 0 "
    "where one\n"
    "                                   was not measured: proposes edge offsets for one rail (the first "
    "lower\n"
    "                                   one; the first upper one where there is none) and prints them with "
    "residuals\n"
    "  test-cut-more WIDTH,WIDTH,...    the same, along with the test cuts before\n"
    "  apply                            sets the edge offsets that are proposed, and prints of each holder "
    "what its\n"
    "                                   offset was and becomes\n"
    "  datum RAIL POSITION              the carriage's pin was measured to stand there: confirms a homing "
    "that went\n"
    "                                   nowhere (alarm DATUM_DECLARED)\n"
    "  shift RAIL SHIFT                 the rail's holders, or its references, were found off alike by "
    "SHIFT, "
    "the\n"
    "                                   alarm's value, and are right where they are found: the next scan "
    "counts\n"
    "                                   (alarms RAIL_SHIFTED, RAIL_SCALED, SWITCH_SHIFTED, "
    "REFERENCES_SHIFTED)\n"
    "  frame, frame-back ...            where a rail lies in the machine's frame, and back: `kniferail help "
    "calibrate`\n"
    "  bench RAIL HOLDER|all            the edge was measured at the bench: confirms the offset that is set\n"
    "  feeler RAIL HOLDER|all           the edge was measured in place with a feeler gauge: the same\n"
    "  trial RAIL HOLDER|all            the holder and its partners may be lowered for a test cut: its "
    "strips,\n"
    "                                   entered as above and within slit_mm, prove the edges of each cut "
    "whose\n"
    "                                   strips were all measured\n"
    "  enter, mount, dismount, reground, broken, scrap ...\n"
    "                                   what becomes of knives of the ledger: `kniferail help knives` has "
    "their "
    "arguments\n"
    "\n"
    "A change of an edge offset by more than the station's offset_step_mm is refused at first, with both "
    "values;\n"
    "the same command given once more, with nothing between, is taken.\n"
    "An edge is not proven after offset, regrind, swap, mount, reground and apply, nor in a new book: until "
    "it is confirmed, "
    "or a\n"
    "test cut has proven it, the line may not run with it. `kniferail status` names such edges.\n"
    "Lock out drives and air before an edge is measured in place; nobody is in the zone while a test cut "
    "runs.\n"
    "SIZE is a name, or a number from 1, in the list of sizes that `kniferail status --holders` shows.\n"
    "A length is 25.4, 3 5/8 or -1.2, with mm, um, nm, m, in or ft behind it if it isn't in the station's "
    "unit; of two\n"
    "widths such as 62,5 in it stands behind both.\n"
    "\n"
    "  --host H     name or address of the gateway (127.0.0.1)\n"
    "  --port P     TCP port (1502)\n"
    "  --unit U     unit identifier (255: the only station, or the default one)\n"
    "\n"
    "Exit status: 0 accepted, 1 refused or the station can't be reached, 2 wrong usage.\n";

/* What follows the word: r rail, h holder, a holder or all of the rail, s size, o offset, p position, w widths; of a
 * frame (set_frame.h) O offset, S scale, P points;
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
    {"test-cut", "w", KR_EDIT_TEST_CUT},
    {"test-cut-more", "w", KR_EDIT_TEST_CUT_MORE},
    {"apply", "", KR_EDIT_APPLY},
    {"datum", "rp", KR_EDIT_DATUM},
    {"shift", "rp", KR_EDIT_SHIFT},
    {"frame", "rOS|P", KR_EDIT_FRAME},
    {"frame-back", "r", KR_EDIT_FRAME_BACK},
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
#define N_WORDS (sizeof words / sizeof words[0])

struct arguments {
    struct kr_address_options options;
    struct kr_client_address address;
    const struct word *word;
    char **value;    /* one for each letter of word->takes */
    size_t n_values; /* so many are given */
};

/* ---- the command line ------------------------------------------------------------------------------------------ */

static const struct word *word_named(const char *name)
{
    for (size_t i = 0; i < N_WORDS; i++)
        if (strcmp(words[i].name, name) == 0)
            return &words[i];
    return NULL;
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
        return kr_usage("set", "what is to be set?");
    a->word = word_named(argv[i]);
    if (a->word == NULL)
        return kr_usage("set", "unknown: '%s'", argv[i]);
    a->value = &argv[i + 1];
    a->n_values = (size_t)(argc - i - 1);
    size_t least = strcspn(a->word->takes, "|"), most = strlen(a->word->takes);
    most -= least < most; /* the bar */
    if (a->n_values >= least && a->n_values <= most)
        return KR_RUN;
    return least == most ? kr_usage("set", "'%s' takes %zu arguments", a->word->name, least)
                         : kr_usage("set", "'%s' takes %zu to %zu arguments", a->word->name, least, most);
}

/* ---- the block ------------------------------------------------------------------------------------------------- */

static bool put_number(struct edit_block *block, enum kr_reg reg, const char *what, const char *text,
                       long most)
{
    long number;
    if (!kr_number("set", what, text, 1, most, &number))
        return false;
    *edit_at(block, reg, 0) = (uint16_t)number;
    return true;
}

/* A number, or a name that the station lists. What is no name can only be told once the station is asked. */
static bool put_size(struct edit_block *block, const char *text)
{
    char name[KR_SIZE_NAME_MAX], all[KR_SIZES_MAX * (KR_SIZE_NAME_MAX + 4)] = "";
    if (text[strspn(text, "0123456789")] == '\0')
        return put_number(block, KR_REG_EDIT_SIZE, "size", text, KR_SIZES_MAX);
    for (uint16_t size = 1; block->image && size <= kr_get_u16(block->image, KR_REG_SIZE_COUNT, 0, 0);
         size++) {
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

static bool put_argument(struct edit_block *block, char letter, const char *text)
{
    switch (letter) {
    case 'r': return put_number(block, KR_REG_EDIT_RAIL, "rail", text, KR_RAILS_MAX);
    case 'h': return put_number(block, KR_REG_EDIT_HOLDER, "holder", text, KR_HOLDERS_MAX);
    case 'a':
        return strcmp(text, "all") == 0 ||
               put_number(block, KR_REG_EDIT_HOLDER, "holder", text, KR_HOLDERS_MAX);
    case 's': return put_size(block, text);
    case 'o': return put_text_length(block, KR_REG_EDIT_OFFSET, "offset", text);
    case 'p': return put_text_length(block, KR_REG_EDIT_POSITION, "position", text);
    case 'w': return put_widths(block, text);
    case 'O':
    case 'S':
    case 'P': return set_frame_put(block, letter, text);
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

static const char *advice(const struct kr_result *result, bool of_frame)
{
    if (result->code != KR_NOT_IN_THIS_STATE)
        return "";
    return of_frame ? ": it is set while the unit is Stopped or Idle"
                    : " (a job runs or winds down): hold or stop it first";
}

/* What is changed as a whole, as it was. */
struct before {
    struct set_view_offsets offsets; /* of nothing, unless they are set */
    struct kr_frame frame;
};

static bool is_of_frame(uint16_t kind)
{
    return kind == KR_EDIT_FRAME || kind == KR_EDIT_FRAME_BACK;
}

static bool view(struct kr_client *client, struct edit_block *block, const struct before *before)
{
    bool frame = is_of_frame(*edit_at(block, KR_REG_EDIT_KIND, 0));
    return set_view_accepted(client) && set_view_applied(client, &before->offsets) &&
           (!frame || set_frame_changed(client, *edit_at(block, KR_REG_EDIT_RAIL, 0), &before->frame)) &&
           (block->n_widths > 0 ? set_view_proposal(client, block->n_widths) : set_view_due(client));
}

static int tell(struct kr_client *client, struct edit_block *block, const struct before *before)
{
    char sentence[256];
    struct kr_result result = edit_result(&client->image);
    if (result.code != KR_OK) {
        kr_result_text(&result, client->image.format.length_unit, sentence, sizeof sentence);
        fprintf(stderr, "kniferail set: refused: %s%s\n", sentence,
                advice(&result, is_of_frame(*edit_at(block, KR_REG_EDIT_KIND, 0))));
        return KR_EXIT_REFUSED;
    }
    if (!view(client, block, before)) {
        fprintf(stderr, "kniferail set: %s\n", client->error);
        return KR_EXIT_REFUSED;
    }
    set_view_caution((enum kr_edit_kind) * edit_at(block, KR_REG_EDIT_KIND, 0));
    return kr_flushed(KR_EXIT_OK);
}

/* What is proposed is gone once it is set, so it is read before; so is a frame. */
static bool ask(struct kr_client *client, struct edit_block *block, const struct arguments *a,
                struct before *before)
{
    return (a->word->kind != KR_EDIT_APPLY || set_view_before(client, &before->offsets)) &&
           (!is_of_frame((uint16_t)a->word->kind) ||
            set_frame_read(client, *edit_at(block, KR_REG_EDIT_RAIL, 0), &before->frame)) &&
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
    block.format.length_unit = KR_LENGTH_MM; /* what is no number at all is told before anybody is asked */
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
