/* scene: the content of a picture of a station as plain data: rails to scale with their holders, cut lines, web, trims
 * and slits, carriages, moves, and how well each position is known. It is made once, from a plan or from the registers
 * of a station, and every painter draws from it. The painter for text is in this header, and the one for SVG, PDF and
 * PNG in drawing.h. Pure: no I/O, no clock, no allocation, no terminal. Stands on plan; any thread may call it.
 *
 * Lengths are micrometres from the datum, growing towards the drive side. The operator side is drawn on the left. */
#ifndef KNIFERAIL_SCENE_H
#define KNIFERAIL_SCENE_H

#include "kniferail/plan.h"

#define KR_SCENE_NAME_MAX       16  /* name of a rail, with the closing 0: "upper2" */
#define KR_SCENE_NOTE_MAX       120 /* text about the carriage, with the closing 0 */
#define KR_SCENE_REFERENCES_MAX 8   /* references of a rail, as many as the register map has */

/* The source of a scene, which decides what its positions mean. */
enum kr_scene_source {
    KR_SCENE_PLAN,    /* at_um is before the moves, and target_um after them */
    KR_SCENE_STATION, /* at_um is the position that the station reports */
    KR_SCENE_RECORD,  /* at_um is the position at the end of a changeover; there are no carriages */
    KR_SCENE_STAGED,  /* only the web of a staged order; its cut lines have no holders yet */
};

struct kr_scene_holder {
    uint8_t state; /* enum kr_holder_state; an absent holder is not drawn */
    /* Enum kr_known. With KR_UNKNOWN, at_um has no meaning. The positions of a plan count as measured. */
    uint8_t known;
    bool has_target;      /* target_um is valid */
    bool has_deviation;   /* deviation_um is valid */
    uint16_t cut;         /* number of its cut line, from 1; 0: idle */
    int32_t at_um;        /* its centre */
    int32_t target_um;    /* target of its centre */
    int32_t deviation_um; /* measured position minus target */
    int32_t body_um;      /* its width along the rail: the least spacing of two holders of its size */
};

struct kr_scene_move {
    uint16_t holder;          /* from 1 */
    uint16_t after[2];        /* holders that have to move first; 0: none */
    uint8_t reason;           /* enum kr_reason */
    int32_t from_um, to_um;   /* of the holder's centre */
    int64_t start_us, end_us; /* from the start of the rail's first move */
    int64_t drag_us;          /* start of the drag, after the empty travel and the docking */
};

/* Whether the last scan found a flag that is fixed to the machine's frame. Such flags show whether the rail is off. */
enum kr_scene_seen {
    KR_SCENE_NOT_LOOKED_FOR, /* it is unknown whether a scan has found it */
    KR_SCENE_FOUND,          /* the last scan that counted found it in its place and with its width */
    KR_SCENE_NOT_FOUND,      /* the last scan that counted did not find it so, or there was none yet */
};
struct kr_scene_reference {
    int32_t at_um;
    uint8_t seen; /* enum kr_scene_seen */
};

struct kr_scene_rail {
    /* "upper", "lower"; further rails of the same role are "upper2" and so on. */
    char name[KR_SCENE_NAME_MAX];
    uint8_t role; /* enum kr_role */
    uint16_t n_holders;
    bool has_limits; /* min_um and max_um, the limits of every holder's centre, are valid */
    int32_t min_um, max_um;
    bool has_carriage; /* carriage_um is valid */
    int32_t carriage_um;
    char note[KR_SCENE_NOTE_MAX]; /* text about the carriage; may be empty */
    struct kr_scene_holder holder[KR_HOLDERS_MAX];
    uint16_t n_moves;
    struct kr_scene_move move[KR_HOLDERS_MAX]; /* in their sequence */
    int64_t moves_us;                          /* time of all moves */
    int64_t scan_us;                           /* time of a scan of this rail before the moves; 0: unknown */
    int64_t verify_us; /* time of a scan after them, which goes fast between flags where the station may */
    uint16_t n_references;
    struct kr_scene_reference reference[KR_SCENE_REFERENCES_MAX];
};

struct kr_scene_slit {
    int32_t left_um, right_um; /* two cut lines, or a cut line and an untrimmed edge of the web */
    int64_t width_nm;          /* ordered width if it is known, otherwise the distance of the two */
    bool has_measured;         /* measured_um is valid */
    int32_t measured_um;
};

struct kr_scene {
    enum kr_scene_source source;
    enum kr_length_unit length_unit; /* unit in which people read lengths */
    char station[KR_NAME_MAX];
    uint32_t order_number;   /* 0: none, or unknown */
    int32_t low_um, high_um; /* the drawing lies between these limits */
    int32_t edge_um[2];      /* edges of the web: operator side, drive side */
    int64_t trim_nm[2];      /* trims on the same sides; 0 at an untrimmed edge */
    uint16_t n_cuts;
    int32_t cut_um[KR_CUTS_MAX]; /* ascending */
    uint16_t n_slits;
    struct kr_scene_slit slit[KR_SLITS_MAX]; /* in sequence from the operator side */
    uint16_t n_rails;
    bool rails_together;
    struct kr_scene_rail rail[KR_RAILS_MAX];
};

/* Makes a scene of a plan. kr_plan_make() must have made the plan from this request without refusing it. scan_us and
 * verify_us have the times of a scan before and after the moves, for each of the request->geometry.n_rails rails; NULL:
 * unknown. */
void kr_scene_of_plan(struct kr_scene *scene, const char *station, enum kr_length_unit unit,
                      const struct kr_plan_request *request, const struct kr_plan *plan, const int64_t *scan_us,
                      const int64_t *verify_us);

/* Makes a scene of a station's registers. The image must contain the blocks RUN, ABOUT, CUTS and SIZES, and the
 * registers of each rail for as many elements as it has holders. */
void kr_scene_of_image(struct kr_scene *scene, const struct kr_image *image);

/* Makes a scene of the web of the staged order. The image must also contain the block STAGED. The scale is that of
 * kr_scene_of_image() for the same image, so that the two pictures can be placed one above the other. Without a staged
 * order the scene has no cut lines. */
void kr_scene_of_staged(struct kr_scene *scene, const struct kr_image *image);

/* Sets low_um and high_um. Code that fills a scene itself calls it last. */
void kr_scene_bound(struct kr_scene *scene);

/* Writes the name of a rail among the rails of its role. role[i] is the role of rail i. */
void kr_scene_rail_name(char name[KR_SCENE_NAME_MAX], const enum kr_role role[], uint16_t rail);

/* Returns the greatest deviation of a rail, with its sign. *holder is the number of its holder, from 1; 0: no deviation
 * is known. */
int32_t kr_scene_worst_um(const struct kr_scene_rail *rail, uint16_t *holder);

/* Returns the number of adjacent slits that are as wide as the first one. first is an index of slit[]. */
uint16_t kr_scene_run(const struct kr_scene *scene, uint16_t first);
/* Writes the same in words, without a unit: "4 x 240", or "200" for a single slit. Returns as snprintf() does. */
int kr_scene_run_text(const struct kr_scene *scene, uint16_t first, char *text, size_t size);

/* Writes a length as short as possible without rounding: "125", "92.075", "3.625", without a unit. Returns as
 * snprintf() does. */
int kr_scene_length(int64_t nm, enum kr_length_unit unit, char *text, size_t size);

/* Writes the purpose of a move and the holders for which it waits: "cut 3, after 4, 5". */
void kr_scene_move_text(const struct kr_scene_rail *rail, const struct kr_scene_move *move, char *text, size_t size);

/* Returns the distance between two marks of a ruler, in nm: 1, 2 or 5 times a power of ten of the unit (mm, or 0.1 in).
 * It is the least with which no more than `most` marks stand between low_um and high_um. */
int64_t kr_scene_ruler_step(const struct kr_scene *scene, int most);

/* ---- the painter for text ------------------------------------------------------------------------------------- */

#define KR_SCENE_COLUMNS_MIN 60
#define KR_SCENE_COLUMNS_MAX 240

/* The marks, which are the same in every drawing. There are two forms: ASCII, and characters for boxes and shapes
 * (UTF-8). Each row has: name, ASCII, with box characters, meaning. */
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
    int columns; /* length of a line; it is limited to KR_SCENE_COLUMNS_MIN to KR_SCENE_COLUMNS_MAX */
    bool box;    /* use the characters for boxes and shapes; false: ASCII only */
};

/* Receives the lines of a painting one by one, without blanks at their end and without a newline. */
struct kr_scene_lines {
    void (*line)(void *arg, const char *text);
    void *arg;
};

/* These draw the rails, the web between them, a ruler, and the meaning of the marks. Beside a carriage stands what it
 * does and, if there is room, the greatest deviation of its rail. For a plan, kr_scene_text() draws the holders at
 * their targets, and kr_scene_text_before() draws where they stand now, one line for each rail. kr_scene_text() returns
 * the number of lines before those that explain the marks. */
int kr_scene_text(const struct kr_scene *scene, struct kr_scene_style style, struct kr_scene_lines to);
void kr_scene_text_before(const struct kr_scene *scene, struct kr_scene_style style, struct kr_scene_lines to);

/* kr_scene_text_order() writes the web width, trims, slits and cut lines in words, and kr_scene_text_web() writes only
 * the web width and the trims. Without cut lines they write nothing. */
void kr_scene_text_web(const struct kr_scene *scene, struct kr_scene_style style, struct kr_scene_lines to);
void kr_scene_text_order(const struct kr_scene *scene, struct kr_scene_style style, struct kr_scene_lines to);

/* Writes what a drawing may not show: the holders whose positions are unknown, adjacent ones as a range, and the
 * references that were not found. It writes nothing if all are known and found. */
void kr_scene_text_unknown(const struct kr_scene *scene, struct kr_scene_style style, struct kr_scene_lines to);

/* Draws the moves of a rail over time. Each move has its holder, its times, its places, its purpose, the holders for
 * which it waits, and a bar for its duration. Scans are drawn if their time is known. The holders that stay come
 * last. */
void kr_scene_text_moves(const struct kr_scene *scene, uint16_t rail, struct kr_scene_style style,
                         struct kr_scene_lines to);

#endif
