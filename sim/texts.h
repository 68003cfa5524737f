/* The longer texts of kniferail-sim. The build makes them from sim/help (src/base/texts.cmake). */
#ifndef KNIFERAIL_SIM_TEXTS_H
#define KNIFERAIL_SIM_TEXTS_H

/* What --help says, without the cautions. */
extern const char kr_sim_help[];

#endif
