/* The fields that must survive a power cut, one row each. The statements, binding, reading, comparison and the seal are
 * generated from these rows, and so are the tests' comparisons. A test compares each list with its table. Private to
 * src/book.
 *
 *    X(field of the struct, "column of the table", TYPE, when the seal covers it)
 *
 * ALWAYS: the column has been there since the first schema version. IF_SET is for every later column, which is NOT NULL
 * DEFAULT 0. The seal covers such a column where it isn't 0, so that the seal of a book that was written before the
 * column existed stays valid. The seal takes the fields in the order of these rows, so never change that order: add a
 * new row at the end of its list. */
#ifndef BOOK_FIELDS_H
#define BOOK_FIELDS_H

#include "kniferail/station.h"

/* The C type of a column, and the least and greatest value that it may hold. */
#define I32            int32_t, INT32_MIN, INT32_MAX
#define U32            uint32_t, 0, UINT32_MAX
#define U16            uint16_t, 0, UINT16_MAX
#define I64            int64_t, INT64_MIN, INT64_MAX
#define FLAG           uint8_t, 0, 1
#define BYTE           uint8_t, 0, UINT8_MAX
#define CODE           enum kr_code, 0, UINT16_MAX
#define KNOWN          uint8_t, KR_UNKNOWN, KR_MEASURED
#define STATE          uint8_t, KR_HOLDER_IN, KR_HOLDER_ABSENT
#define SIZE           uint8_t, 1, KR_SIZES_MAX
#define ORIGIN         uint8_t, KR_ORIGIN_TOLD, KR_ORIGIN_RELEASED
#define EDGE           uint8_t, KR_EDGE_UNPROVEN, KR_EDGE_STRUCK
#define CUT            uint16_t, 0, KR_CUTS_MAX
#define OUTCOME        uint16_t, KR_OUTCOME_NONE, KR_OUTCOME_ABORTED
#define HOLDER_OR_NONE uint16_t, 0, KR_HOLDERS_MAX
#define FRAME_ORIGIN   uint8_t, KR_FRAME_FROM_NONE, KR_FRAME_FROM_PERSON
#define FRAME_OFFSET   int32_t, -KR_FRAME_OFFSET_MAX_UM, KR_FRAME_OFFSET_MAX_UM
#define EXPANSION      int32_t, -KR_EXPANSION_MAX_PPB, KR_EXPANSION_MAX_PPB
#define SWITCH_OFFSET  int32_t, -KR_SWITCH_OFFSET_MAX_UM, KR_SWITCH_OFFSET_MAX_UM
#define SCAN_BIAS      int32_t, -KR_SCAN_BIAS_MAX_UM, KR_SCAN_BIAS_MAX_UM
#define DOCK_TIME      int32_t, 0, KR_DOCK_MAX_US
#define TRAVEL_TIME    int32_t, 0, KR_TRAVEL_MAX_US
#define FRAME_SCALE    int32_t, -KR_FRAME_SCALE_MAX_PPB, KR_FRAME_SCALE_MAX_PPB

/* struct kr_holder_data, table holder */
#define HOLDER_FIELDS(X) \
    X(position_um, "position_um", I32, ALWAYS) \
    X(edge_offset_um, "edge_offset_um", I32, ALWAYS) \
    X(dock_retries, "dock_retries", U16, ALWAYS) \
    X(metres, "metres", U32, ALWAYS) \
    X(known, "known", KNOWN, ALWAYS) \
    X(holder_size, "class", SIZE, ALWAYS) \
    X(state, "state", STATE, ALWAYS) \
    X(origin, "origin", ORIGIN, IF_SET) \
    X(edge, "edge", EDGE, IF_SET) \
    X(was_known, "was_known", KNOWN, IF_SET) \
    X(cut, "cut", CUT, IF_SET) \
    X(knife, "knife", U32, IF_SET) \
    X(knife_kind, "knife_kind", U32, IF_SET)

/* struct kr_durable, table station */
#define STATION_FIELDS(X) \
    X(was_verified, "was_verified", FLAG, IF_SET) \
    X(fell, "fell", FLAG, IF_SET) \
    X(fell_metres, "fell_metres", U32, IF_SET) \
    X(cut_metres, "cut_metres", U32, IF_SET)

/* struct kr_durable, table rail; r is the rail, from 0. The frames' points are stored in the table frame_point */
#define RAIL_FIELDS(X) \
    X(docking[r], "holder_in_motion", HOLDER_OR_NONE, ALWAYS) \
    X(clamp_open[r], "clamp_open", FLAG, ALWAYS) \
    X(datum_doubted[r], "datum_doubted", FLAG, ALWAYS) \
    X(rests[r], "rests", FLAG, IF_SET) \
    X(rest_um[r], "rest_um", I32, IF_SET) \
    X(shift_um[r], "shift_um", I32, IF_SET) \
    X(references[r].correction.datum_um, "datum_um", I32, IF_SET) \
    X(references[r].correction.taught_um, "taught_um", I32, IF_SET) \
    X(references[r].correction.scale_ppb, "scale_ppb", I32, IF_SET) \
    X(references[r].correction.switch_um, "switch_um", I32, IF_SET) \
    X(references[r].seen, "references_seen", FLAG, IF_SET) \
    X(references[r].good, "references_good", BYTE, IF_SET) \
    X(references[r].trend_um[0], "trend_1_um", I32, IF_SET) \
    X(references[r].trend_um[1], "trend_2_um", I32, IF_SET) \
    X(references[r].trend_um[2], "trend_3_um", I32, IF_SET) \
    X(references[r].trend_um[3], "trend_4_um", I32, IF_SET) \
    X(references[r].trend_um[4], "trend_5_um", I32, IF_SET) \
    X(references[r].trend_um[5], "trend_6_um", I32, IF_SET) \
    X(references[r].trend_um[6], "trend_7_um", I32, IF_SET) \
    X(references[r].trend_um[7], "trend_8_um", I32, IF_SET) \
    X(references[r].width_um[0], "reference_1_um", I32, IF_SET) \
    X(references[r].width_um[1], "reference_2_um", I32, IF_SET) \
    X(references[r].width_um[2], "reference_3_um", I32, IF_SET) \
    X(references[r].width_um[3], "reference_4_um", I32, IF_SET) \
    X(references[r].width_um[4], "reference_5_um", I32, IF_SET) \
    X(references[r].width_um[5], "reference_6_um", I32, IF_SET) \
    X(references[r].width_um[6], "reference_7_um", I32, IF_SET) \
    X(references[r].width_um[7], "reference_8_um", I32, IF_SET) \
    X(access_count[r], "access_count", U16, IF_SET) \
    X(proof[r], "proof", U32, IF_SET) \
    X(proof_inputs[r], "proof_inputs", U16, IF_SET) \
    X(frame_origin[r], "frame_origin", FRAME_ORIGIN, IF_SET) \
    X(frame[r].offset_um, "frame_offset_um", FRAME_OFFSET, IF_SET) \
    X(frame[r].scale_ppb, "frame_scale_ppb", FRAME_SCALE, IF_SET) \
    X(frame_before[r].offset_um, "frame_before_offset_um", FRAME_OFFSET, IF_SET) \
    X(frame_before[r].scale_ppb, "frame_before_scale_ppb", FRAME_SCALE, IF_SET) \
    X(references[r].correction.expansion_ppb, "expansion_ppb", EXPANSION, IF_SET) \
    X(switch_origin[r], "switch_origin", FRAME_ORIGIN, IF_SET) \
    X(of_switch[r].offset_um, "switch_offset_um", SWITCH_OFFSET, IF_SET) \
    X(of_switch[r].bias_um, "scan_bias_um", SCAN_BIAS, IF_SET) \
    X(switch_before[r].offset_um, "switch_before_offset_um", SWITCH_OFFSET, IF_SET) \
    X(switch_before[r].bias_um, "scan_bias_before_um", SCAN_BIAS, IF_SET) \
    X(times_origin[r], "times_origin", FRAME_ORIGIN, IF_SET) \
    X(times[r].dock_us, "dock_us", DOCK_TIME, IF_SET) \
    X(times[r].undock_us, "undock_us", DOCK_TIME, IF_SET) \
    X(times[r].setpoint_us, "setpoint_us", TRAVEL_TIME, IF_SET) \
    X(times[r].rounding_us, "rounding_us", TRAVEL_TIME, IF_SET) \
    X(times_before[r].dock_us, "dock_before_us", DOCK_TIME, IF_SET) \
    X(times_before[r].undock_us, "undock_before_us", DOCK_TIME, IF_SET) \
    X(times_before[r].setpoint_us, "setpoint_before_us", TRAVEL_TIME, IF_SET) \
    X(times_before[r].rounding_us, "rounding_before_us", TRAVEL_TIME, IF_SET)

/* struct kr_order, table orders; n_slits and width_nm are stored in the table slit */
#define ORDER_FIELDS(X) \
    X(order_number, "order_number", U32, ALWAYS) \
    X(edge_flags, "edge_flags", U16, ALWAYS) \
    X(alignment, "alignment", U16, ALWAYS) \
    X(compensation_ppm, "compensation_ppm", I32, ALWAYS) \
    X(tolerance_um, "tolerance_um", I32, ALWAYS) \
    X(web_width_nm, "web_width_nm", I64, ALWAYS) \
    X(trim_nm, "trim_nm", I64, ALWAYS) \
    X(shift_nm, "shift_nm", I64, ALWAYS) \
    X(sum_nm, "sum_nm", I64, ALWAYS)

/* The tables that follow are history, too. The seal of a row (rows.h) takes its columns in the order of insertion. */

/* struct kr_verdict, table verdict. A row has the columns from before schema version 3, then the sentence, then the
 * others. */
#define VERDICT_FIELDS(X) VERDICT_FIELDS_BEFORE_3(X) VERDICT_TOLD_FIELDS(X)
#define VERDICT_TOLD_FIELDS(X) \
    X(scans_ms, "scans_ms", I32, IF_SET) \
    X(verified_ms, "verified_ms", I32, IF_SET)
#define VERDICT_FIELDS_BEFORE_3(X) \
    X(session, "session", U16, ALWAYS) \
    X(number, "number", U16, ALWAYS) \
    X(kind, "kind", U16, ALWAYS) \
    X(result.code, "code", CODE, ALWAYS) \
    X(result.rail, "rail", U16, ALWAYS) \
    X(result.item, "item", U16, ALWAYS) \
    X(result.value, "value", I32, ALWAYS) \
    X(result.limit, "limit_value", I32, ALWAYS) \
    X(order_number, "order_number", U32, ALWAYS) \
    X(replaced_order, "replaced_order", U32, ALWAYS) \
    X(slit_count, "slit_count", U16, ALWAYS) \
    X(sum_nm, "sum_nm", I64, ALWAYS) \
    X(time_ms, "time_ms", I32, ALWAYS)

/* struct kr_edit, table edit_request. The text `origin` is handled outside of the list: a row has it before the result,
 * and the seal takes it after the result. */
#define EDIT_ASKED_FIELDS(X) \
    X(session, "session", U16, ALWAYS) \
    X(number, "number", U16, ALWAYS) \
    X(kind, "kind", U16, ALWAYS) \
    X(rail, "rail", U16, ALWAYS) \
    X(holder, "holder", U16, ALWAYS) \
    X(holder_size, "class", U16, ALWAYS) \
    X(edge_offset_um, "edge_offset_um", I32, ALWAYS) \
    X(position_um, "position_um", I32, ALWAYS)
#define EDIT_RESULT_FIELDS(X) \
    X(result.code, "code", CODE, ALWAYS) \
    X(result.rail, "result_rail", U16, ALWAYS) \
    X(result.item, "result_item", U16, ALWAYS) \
    X(result.value, "result_value", I32, ALWAYS) \
    X(result.limit, "result_limit", I32, ALWAYS)
#define EDIT_FIELDS(X) EDIT_ASKED_FIELDS(X) EDIT_RESULT_FIELDS(X)

/* struct kr_record, table changeover. In a row, the time stands after the number, and the outcome after the job. */
#define RECORD_NUMBER_FIELDS(X)  X(number, "number", U16, ALWAYS)
#define RECORD_OUTCOME_FIELDS(X) X(outcome, "outcome", OUTCOME, ALWAYS)
#define RECORD_JOB_FIELDS(X) \
    X(job, "job", U16, ALWAYS) \
    X(order_number, "order_number", U32, ALWAYS)
#define RECORD_FIGURES_FIELDS(X) \
    X(planned_ms, "planned_ms", I32, ALWAYS) \
    X(actual_ms, "actual_ms", I32, ALWAYS) \
    X(total_ms, "total_ms", I32, ALWAYS) \
    X(worst_pair_um, "worst_pair_um", I32, ALWAYS) \
    X(worst_slit_um, "worst_slit_um", I32, ALWAYS) \
    X(cause.code, "cause", U16, ALWAYS) \
    X(cause.rail, "cause_rail", U16, ALWAYS) \
    X(cause.item, "cause_item", U16, ALWAYS) \
    X(cause.value, "cause_value", I32, ALWAYS) \
    X(cause.limit, "cause_limit", I32, ALWAYS)
/* In a row, told_ms stands after the columns that say what the time was spent on. */
#define RECORD_TOLD_FIELDS(X) X(told_ms, "told_ms", I32, IF_SET)
#define RECORD_FIELDS(X) \
    RECORD_NUMBER_FIELDS(X) \
    RECORD_OUTCOME_FIELDS(X) RECORD_JOB_FIELDS(X) RECORD_FIGURES_FIELDS(X) RECORD_TOLD_FIELDS(X)

/* struct kr_record_rail, table changeover_rail. A row has the columns from before schema version 3 first. */
#define RECORD_RAIL_FIELDS(X) RECORD_RAIL_FIELDS_BEFORE_3(X) RECORD_TIMING_FIELDS(X)
#define RECORD_TIMING_FIELDS(X) \
    X(docks, "docks", U16, IF_SET) \
    X(undocks, "undocks", U16, IF_SET) \
    X(ways, "ways", U16, IF_SET) \
    X(dock_ms, "dock_ms", I32, IF_SET) \
    X(undock_ms, "undock_ms", I32, IF_SET) \
    X(setpoint_ms, "setpoint_ms", I32, IF_SET) \
    X(rounding_ms, "rounding_ms", I32, IF_SET)
#define RECORD_RAIL_FIELDS_BEFORE_3(X) \
    X(moves, "moves", U16, ALWAYS) \
    X(corrections, "corrections", U16, ALWAYS) \
    X(retries, "retries", U16, ALWAYS) \
    X(worst_holder, "worst_holder", U16, ALWAYS) \
    X(worst_um, "worst_um", I32, ALWAYS)

/* The parts that a list contributes to a statement: its columns, and its values, which are bound in the order of the
 * rows, either by position (VALUES_OF) or by name (NAMES_OF). */
#define COLUMNS_OF(list) list(FIELD_COLUMN)
#define VALUES_OF(list)  list(FIELD_VALUE)
#define NAMES_OF(list)   list(FIELD_NAME)
#define CHANGES_OF(list) list(FIELD_CHANGE)

#define FIELD_COLUMN(field, column, type, sealed) ", " column
#define FIELD_VALUE(field, column, type, sealed)  ", ?"
#define FIELD_NAME(field, column, type, sealed)   ", :" column
#define FIELD_CHANGE(field, column, type, sealed) ", " column " = ?"

#endif
