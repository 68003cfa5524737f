/* kniferail calibrate: between its own files. */
#ifndef KNIFERAIL_CLI_CALIBRATE_CMD_H
#define KNIFERAIL_CLI_CALIBRATE_CMD_H

#include <jansson.h>

#include "kniferail/calibration.h"
#include "kniferail/frame.h"

struct calibrate_job {
    const char *path;
    size_t n;
    struct kr_reading reading[KR_CALIBRATION_READINGS_MAX];
    bool is_corrected; /* for the instrument's temperature */
    double celsius, per_kelvin;
    struct kr_instrument instrument;
    struct kr_frame before; /* in which the targets are told; all 0: they are the drive's positions */
    struct kr_calibration result;
    enum kr_calibration_model model; /* whose settings are printed */
    struct kr_frame frame;           /* they */
    uint16_t bad_point; /* of its table, which breaks a limit of the station file; 0: none does */
    enum kr_iso_lack iso_lack;
    unsigned iso_has, iso_needs;
    struct kr_iso_axis iso; /* where nothing lacks */
};

/* Reads the file. False: each bad row was told, by file, line, column, value and limit, and nothing is taken. */
bool calibrate_read(struct calibrate_job *job);

void calibrate_print(const struct calibrate_job *job);
json_t *calibrate_json(const struct calibrate_job *job);

#endif
