/* This file is compiled only for its debug information, from which layout.sh makes the table of layout.c. It has one
 * object of each struct whose fields a recorder must know. */
#include "state.h"

const struct kr_station layout_station;
const struct kr_station_in layout_in;
const struct kr_station_out layout_out;
const struct kr_station_steps layout_steps;
const struct kr_axis_in layout_axis_in;
const struct kr_axis_out layout_axis_out;
