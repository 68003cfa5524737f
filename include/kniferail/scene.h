/* scene: what a picture of a station shows, as plain data: rails to scale with their holders, cut lines, web, trims and
 * slits, carriages, moves, and how well each place is known. It is made once, from a plan or from the registers of a
 * station, and every painter draws from it: the one for text is here, the one for SVG, PDF and PNG is drawing.h. Pure:
 * no I/O, no clock, no allocation, no terminal. Stands on plan; callable from any thread.
 *
 * Lengths are micrometres from the datum, growing towards the drive side; the operator side is drawn left. */
#ifndef KNIFERAIL_SCENE_H
#define KNIFERAIL_SCENE_H

#include "kniferail/plan.h"

#define KR_SCENE_NAME_MAX       16  /* of a rail, with its closing 0: "upper2" */
#define KR_SCENE_NOTE_MAX       120 /* what the carriage does, with its closing 0 */
#define KR_SCENE_REFERENCES_MAX 8   /* of a rail, as many as the map has room for */

/* What the scene was made from, which decides what its places mean. */
enum kr_scene_source {
    KR_SCENE_PLAN,    /* at_um is before the moves, target_um behind them */
    KR_SCENE_STATION, /* at_um is where the station says that the holder stands */
    KR_SCENE_RECORD,  /* at_um is where the holder stood when a changeover ended; there are no carriages */
    KR_SCENE_STAGED,  /* a web alone, of an order that waits: nobody has decided yet who cuts it */
};

struct kr_scene_holder {
    uint8_t state; /* enum kr_holder_state; one that is absent is not drawn */
    uint8_t known; /* enum kr_known; with KR_UNKNOWN at_um means nothing. A plan's places count as measured */
    bool has_target;      /* target_um means something */
    bool has_deviation;   /* deviation_um does */
    uint16_t cut;         /* the cut line that it makes, from 1; 0: idle */
    int32_t at_um;        /* its centre */
    int32_t target_um;    /* where its centre shall be */
    int32_t deviation_um; /* measured less target */
    int32_t body_um;      /* the room that it takes along the rail: the nearest spacing of two of its size */
};

struct kr_scene_move {
    uint16_t holder;          /* from 1 */
    uint16_t after[2];        /* holders that had to move first; 0: none */
    uint8_t reason;           /* enum kr_reason */
    int32_t from_um, to_um;   /* of the holder's centre */
    int64_t start_us, end_us; /* from the start of the rail's first move */
    int64_t drag_us;          /* when the carriage begins to drag, after the empty travel and the docking */
};

/* A flag that is fixed to the machine's frame beyond the holders, by which scans see whether the rail is off. */
enum kr_scene_seen {
    KR_SCENE_NOT_LOOKED_FOR, /* nothing says whether a scan has found it */
    KR_SCENE_FOUND,          /* by the last scan that counted, where and as it should be */
    KR_SCENE_NOT_FOUND,      /* by that scan, or there was none yet */
};
struct kr_scene_reference {
    int32_t at_um;
    uint8_t seen; /* enum kr_scene_seen */
};

struct kr_scene_rail {
    char name[KR_SCENE_NAME_MAX]; /* "upper", "lower"; of several with one role "upper2" and so on */
    uint8_t role;                 /* enum kr_role */
    uint16_t n_holders;
    bool has_limits; /* min_um and max_um, the limits of every holder's centre, mean something */
    int32_t min_um, max_um;
    bool has_carriage; /* carriage_um means something */
    int32_t carriage_um;
    char note[KR_SCENE_NOTE_MAX]; /* what the carriage does, in words; may be empty */
    struct kr_scene_holder holder[KR_HOLDERS_MAX];
    uint16_t n_moves;
    struct kr_scene_move move[KR_HOLDERS_MAX]; /* in their sequence */
    int64_t moves_us;                          /* of all of them */
    int64_t scan_us; /* one scan of this rail; 0: not known. One comes before the moves and one behind them */
    uint16_t n_references;
    struct kr_scene_reference reference[KR_SCENE_REFERENCES_MAX];
};

struct kr_scene_slit {
    int32_t left_um, right_um; /* two cut lines, or a cut line and an edge of the web that is not trimmed */
    int64_t width_nm;          /* as ordered where that is known, else the distance of the two */
    bool has_measured;         /* measured_um means something */
    int32_t measured_um;
};

struct kr_scene {
    enum kr_scene_source source;
    enum kr_length_unit length_unit; /* in which people read lengths */
    char station[KR_NAME_MAX];
    uint32_t order_number;   /* 0: none, or not known */
    int32_t low_um, high_um; /* all that is drawn lies between them */
    int32_t edge_um[2];      /* of the web: operator side, drive side */
    int64_t trim_nm[2];      /* the same sides; 0 at an untrimmed edge */
    uint16_t n_cuts;
    int32_t cut_um[KR_CUTS_MAX]; /* ascending */
    uint16_t n_slits;
    struct kr_scene_slit slit[KR_SLITS_MAX]; /* from the operator side */
    uint16_t n_rails;
    bool rails_together;
    struct kr_scene_rail rail[KR_RAILS_MAX];
};

/* The plan must be one that kr_plan_make() made from this request without refusing it. scan_us: time of one scan of
 * each rail, request->geometry.n_rails of them; NULL: not known. */
void kr_scene_of_plan(struct kr_scene *scene, const char *station, enum kr_length_unit unit,
                      const struct kr_plan_request *request, const struct kr_plan *plan,
                      const int64_t *scan_us);

/* The image must hold the blocks RUN, ABOUT, CUTS and SIZES, and each rail's registers, as far as it has holders. */
void kr_scene_of_image(struct kr_scene *scene, const struct kr_image *image);

/* The web of the staged order, from the block STAGED besides, to the scale of what kr_scene_of_image() makes of the
 * same image: the two can be laid one above the other. Without a staged order it has no cut lines. */
void kr_scene_of_staged(struct kr_scene *scene, const struct kr_image *image);

/* Whoever fills a scene by hand calls this last: it sets low_um and high_um. */
void kr_scene_bound(struct kr_scene *scene);

/* The name of a rail among those of its role; role[i] is that of rail i. */
void kr_scene_rail_name(char name[KR_SCENE_NAME_MAX], const enum kr_role role[], uint16_t rail);

/* The greatest deviation of a rail, signed, and which holder's it is, from 1; 0: none is known. */
int32_t kr_scene_worst_um(const struct kr_scene_rail *rail, uint16_t *holder);

/* Slits side by side that are equally wide: their count; first is an index of slit[]. */
uint16_t kr_scene_run(const struct kr_scene *scene, uint16_t first);
/* The same in words, without a unit: "4 x 240", or "200" of one alone. Returns as snprintf. */
int kr_scene_run_text(const struct kr_scene *scene, uint16_t first, char *text, size_t size);

/* A length as short as it can be without rounding it: "125", "92.075", "3.625"; no unit. Returns as snprintf. */
int kr_scene_length(int64_t nm, enum kr_length_unit unit, char *text, size_t size);

/* What a move is for and whom it waits for: "cut 3, after 4, 5". */
void kr_scene_move_text(const struct kr_scene_rail *rail, const struct kr_scene_move *move, char *text,
                        size_t size);

/* The distance of two marks of a ruler, in nm: 1, 2 or 5 times a power of ten of the unit (mm, or 0.1 in), the least
 * with which no more than `most` marks stand between low_um and high_um. */
int64_t kr_scene_ruler_step(const struct kr_scene *scene, int most);

/* ---- the painter for text ------------------------------------------------------------------------------------- */

#define KR_SCENE_COLUMNS_MIN 60
#define KR_SCENE_COLUMNS_MAX 240

/* The alphabet, the same in every drawing. In two forms: ASCII, and with the characters for boxes and shapes (UTF-8).
 *  name, ASCII, with box characters, what it means */
#define KR_SCENE_MARKS(X) \
    X(BLANK, " ", " ", "") \
    X(WEB, "=", "\u2550", "web") \
    X(TRIM, "-", "\u254c", "trim") \
    X(CUT, "|", "\u256a", "cut line") \
    X(ABOVE, "V", "\u25bc", "cuts above the web") \
    X(BELOW, "A", "\u25b2", "cuts below the web") \
    X(ABOVE_PLACED, "v", "\u25bd", "cuts (placed only)") \
    X(BELOW_PLACED, "a", "\u25b3", "cuts (placed only)") \
    X(IDLE, "o", "\u25cb", "idle") \
    X(IDLE_PLACED, ".", "\u00b7", "idle (placed only)") \
    X(REMEMBERED, "?", "?", "remembered only") \
    X(OUT, "x", "\u00d7", "out of service") \
    X(FIXED, "#", "\u25a0", "fixed") \
    X(REFERENCE, "+", "\u253c", "reference on the frame") \
    X(REFERENCE_LOST, "!", "!", "reference, not found") \
    X(CARRIAGE, "^", "\u25c6", "carriage") \
    X(SEVERAL, "2-9", "2-9", "so many in one column")
enum kr_scene_mark {
#define X(name, ascii, box, meaning) KR_MARK_##name,
    KR_SCENE_MARKS(X)
#undef X
};

struct kr_scene_style {
    int columns; /* of a line, KR_SCENE_COLUMNS_MIN to KR_SCENE_COLUMNS_MAX; taken into that range */
    bool box;    /* with the characters for boxes and shapes; else ASCII alone */
};

/* Gets the lines of a painting one by one, without blanks at their end and without a newline. */
struct kr_scene_lines {
    void (*line)(void *arg, const char *text);
    void *arg;
};

/* The rails, the web between them, a ruler, and what the marks mean; beside a carriage what it does and, where there is
 * room, the greatest deviation of its rail. A plan's holders stand where they shall stand;
 * kr_scene_text_before draws where they stand now, a line a rail. The first returns how many of its lines stand before
 * those that tell what the marks mean. */
int kr_scene_text(const struct kr_scene *scene, struct kr_scene_style style, struct kr_scene_lines to);
void kr_scene_text_before(const struct kr_scene *scene, struct kr_scene_style style,
                          struct kr_scene_lines to);

/* Web width, trims, slits and cut lines in words, or the first two alone; nothing without cut lines. */
void kr_scene_text_web(const struct kr_scene *scene, struct kr_scene_style style, struct kr_scene_lines to);
void kr_scene_text_order(const struct kr_scene *scene, struct kr_scene_style style, struct kr_scene_lines to);

/* What a drawing may not show: which holders' places are unknown, side by side ones as one, and which references were
 * not found. Nothing where all are known and found. */
void kr_scene_text_unknown(const struct kr_scene *scene, struct kr_scene_style style,
                           struct kr_scene_lines to);

/* The moves of a rail over time: who, when, from where to where, what for and after whom, and a bar as long as the move
 * takes; scans, where their time is known; and in the end who stays. */
void kr_scene_text_moves(const struct kr_scene *scene, uint16_t rail, struct kr_scene_style style,
                         struct kr_scene_lines to);

#endif
