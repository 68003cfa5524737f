/* Compiled for its debug information alone, from which layout.sh makes the table of layout.c: one object of each struct
 * whose fields a recorder has to know. */
#include "state.h"

const struct kr_station layout_station;
const struct kr_station_in layout_in;
const struct kr_station_out layout_out;
const struct kr_station_steps layout_steps;
const struct kr_axis_in layout_axis_in;
const struct kr_axis_out layout_axis_out;
