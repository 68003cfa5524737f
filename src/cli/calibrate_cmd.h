/* Shared by the files of the command `kniferail calibrate`. */
#ifndef KNIFERAIL_CLI_CALIBRATE_CMD_H
#define KNIFERAIL_CLI_CALIBRATE_CMD_H

#include <jansson.h>

#include "kniferail/calibration.h"
#include "kniferail/client.h"
#include "kniferail/frame.h"

struct kr_picture_options; /* picture.h */

/* The temperature of the instrument, and its expansion in parts per million per kelvin. */
#define CALIBRATE_CELSIUS_LEAST     (-40)
#define CALIBRATE_CELSIUS_MOST      80
#define CALIBRATE_COEFFICIENT_LEAST (-100)
#define CALIBRATE_COEFFICIENT_MOST  100

struct calibrate_job {
    const char *path;
    size_t n;
    struct kr_reading reading[KR_CALIBRATION_READINGS_MAX];
    bool is_corrected; /* the readings are corrected for the instrument's temperature */
    double celsius, per_kelvin;
    struct kr_instrument instrument;
    bool applies;  /* the result is to be set at the running station */
    uint16_t rail; /* the rail of that station, from 1, for which it is set */
    struct kr_client_address address;
    /* The frame in which the targets are given; all 0: they are positions of the drive. */
    struct kr_frame before;
    int32_t expansion_ppb; /* the running station's expansion of the frame, which is a part of its frame */
    struct kr_calibration result;
    enum kr_calibration_model model; /* the model whose settings are printed */
    struct kr_frame frame;           /* the settings of that model */
    /* The point of the frame's table that breaks a limit of the station file; 0: none does. */
    uint16_t bad_point;
    enum kr_iso_lack iso_lack;
    unsigned iso_has, iso_needs;
    struct kr_iso_axis iso; /* valid if iso_lack says that nothing is missing */
};

/* The positions to which the carriage is sent when readings are typed in, in rising sequence. */
struct calibrate_targets {
    uint16_t n, runs; /* runs go from the lowest target to the highest, and back */
    int64_t nm[KR_CALIBRATION_TARGETS_MAX];
};

/* Reads the readings from standard input, one on each line, in the sequence of the runs. If standard input is a
 * terminal, asks for each reading, and asks again after one that is not valid. False: nothing is taken; the reason was
 * printed. */
bool calibrate_type_in(struct calibrate_job *job, const struct calibrate_targets *targets, const char *unit);

/* Writes the readings to a new file, in the format of calibrate_read(). False: the reason was printed. */
bool calibrate_keep(const struct calibrate_job *job, const char *path);

/* Reads the file. False: nothing is taken; each bad row was printed with file, line, column, value and limit. */
bool calibrate_read(struct calibrate_job *job);

/* Reads the rail's frame from the station, and takes it as the frame in which the targets are given. False: the reason
 * was printed. */
bool calibrate_frame_in_force(struct calibrate_job *job);

/* Returns the frame to be set at the running station: the frame of the result, at 20 C. */
struct kr_frame calibrate_to_set(const struct calibrate_job *job);

/* Converts the readings to 20 C, if the instrument's temperature was given. Call it once, after they are taken. */
void calibrate_bring_to_20(struct calibrate_job *job);

/* Converts the targets to the drive's positions, finds the models, and makes the frame of the best one, or of
 * job->model if that is not KR_N_MODELS. The readings are at 20 C already. False: no such frame is possible; the reason
 * was printed. */
bool calibrate_work_out(struct calibrate_job *job);

/* Sets the result at the station, and prints the old and the new settings. False: the reason was printed. */
bool calibrate_apply(const struct calibrate_job *job);

void calibrate_print(const struct calibrate_job *job);
json_t *calibrate_json(const struct calibrate_job *job);

/* Draws the charts that are wanted. False: the reason was printed: too few readings, or a file can't be written. */
bool calibrate_draw(const struct calibrate_job *job, const struct kr_picture_options *options);

/* Prints what jobs 11 and 12 have measured of the switch of a rail, from 1. applies: asks the station to take it over.
 * False: the reason was printed. */
bool calibrate_measured(const struct kr_client_address *address, uint16_t rail_number, bool applies);

#endif
