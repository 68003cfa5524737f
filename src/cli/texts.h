/* The program's longer texts. The build makes them from src/cli/help, map and texts (src/base/texts.cmake). */
#ifndef KNIFERAIL_CLI_TEXTS_H
#define KNIFERAIL_CLI_TEXTS_H

/* Sections of the map's document. */
extern const char kr_map_alarms_text[], kr_map_bits_text[], kr_map_blocks_text[], kr_map_changes_text[],
    kr_map_layout_text[], kr_map_results_text[], kr_map_room_text[], kr_map_rules_text[];

/* Comment at the head of the map's types for a PLC. */
extern const char kr_types_head[];

/* Of the guided commissioning: the cautions, one in each paragraph, and the sheet of the safety interface. */
extern const char kr_cautions[], kr_safety_sheet[];

#endif
