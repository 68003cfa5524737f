#include "answer.h"

#include <string.h>

#include "identity.h"
#include "wire.h"

#define FC05_ON  0xFF00
#define FC05_OFF 0x0000

/* A request that is being answered. The functions below return 0 if the answer's PDU is in out, n_out bytes long, or
 * the exception. */
struct exchange {
    struct face_registers *r;
    const struct face_client *client;
    const uint8_t *pdu; /* begins with the function code */
    size_t n;
    uint8_t *out;
    size_t n_out;
};

enum { OK = 0, BAD_ADDRESS = MODBUS_EXCEPTION_ILLEGAL_DATA_ADDRESS, BAD_VALUE = MODBUS_EXCEPTION_ILLEGAL_DATA_VALUE };

static void echo(struct exchange *x, size_t n)
{
    memcpy(x->out, x->pdu, n);
    x->n_out = n;
}

/* ---- reads: quantity, then address (APP figures 11 to 14) ---------------------------------------------- */

static uint8_t read_bits(struct exchange *x)
{
    if (x->n != 5)
        return BAD_VALUE;
    uint16_t first = get16(x->pdu + 1), n = get16(x->pdu + 3);
    const struct face_layout *layout = x->r->layout;
    bool coils = x->pdu[0] == MODBUS_FC_READ_COILS;
    if (n < 1 || n > MODBUS_MAX_READ_BITS)
        return BAD_VALUE;
    if (!face_layout_has_bits(coils ? layout->coil : layout->discrete, coils ? layout->n_coils : layout->n_discrete,
                              first, n))
        return BAD_ADDRESS;
    if (coils)
        face_read_coils(x->r, first, n, x->out + 2);
    else
        face_read_discrete(x->r, first, n, x->out + 2);
    x->out[0] = x->pdu[0];
    x->out[1] = (uint8_t)((n + 7) / 8);
    x->n_out = 2u + x->out[1];
    return OK;
}

static void put_read_header(struct exchange *x, uint16_t n)
{
    x->out[0] = x->pdu[0];
    x->out[1] = (uint8_t)(2 * n);
    x->n_out = 2u + 2u * n;
}

static uint8_t read_registers(struct exchange *x)
{
    if (x->n != 5)
        return BAD_VALUE;
    uint16_t first = get16(x->pdu + 1), n = get16(x->pdu + 3);
    bool input = x->pdu[0] == MODBUS_FC_READ_INPUT_REGISTERS;
    if (n < 1 || n > MODBUS_MAX_READ_REGISTERS)
        return BAD_VALUE;
    if (input ? !face_layout_has_input(x->r->layout, first, n) : !face_layout_has_holding(x->r->layout, first, n))
        return BAD_ADDRESS;
    if (input)
        face_read_input(x->r, x->client, first, n, x->out + 2);
    else
        face_read_holding(x->r, x->client, first, n, x->out + 2);
    put_read_header(x, n);
    return OK;
}

/* ---- writes -------------------------------------------------------------------------------------------- */

static uint8_t write_bits(struct exchange *x, uint16_t first, uint16_t n, const uint8_t *bits)
{
    const struct face_layout *layout = x->r->layout;
    const struct face_bits *row = face_layout_bits(layout->coil, layout->n_coils, first);
    if (row == NULL || (uint32_t)first + n > (uint32_t)row->first + row->bits)
        return BAD_ADDRESS;
    return face_write_coils(x->r, x->client, row, first, n, bits);
}

static uint8_t write_registers(struct exchange *x, uint16_t first, uint16_t n, const uint8_t *values)
{
    uint16_t word[MODBUS_MAX_WRITE_REGISTERS];
    if (face_layout_writable(x->r->layout, first, n) == FACE_NO_BLOCK)
        return BAD_ADDRESS;
    for (uint16_t i = 0; i < n; i++)
        word[i] = get16(values + 2 * (size_t)i);
    return face_write(x->r, x->client, first, n, word);
}

/* Checks the value, then the address (APP figure 15). */
static uint8_t write_one_bit(struct exchange *x)
{
    if (x->n != 5)
        return BAD_VALUE;
    uint16_t value = get16(x->pdu + 3);
    if (value != FC05_ON && value != FC05_OFF)
        return BAD_VALUE;
    uint8_t bit = value == FC05_ON;
    uint8_t exception = write_bits(x, get16(x->pdu + 1), 1, &bit);
    echo(x, 5);
    return exception;
}

static uint8_t write_one_register(struct exchange *x)
{
    if (x->n != 5)
        return BAD_VALUE;
    uint8_t exception = write_registers(x, get16(x->pdu + 1), 1, x->pdu + 3);
    echo(x, 5);
    return exception;
}

/* Checks quantity and byte count, then the address (APP figures 21 and 22). */
static uint8_t write_many_bits(struct exchange *x)
{
    if (x->n < 6)
        return BAD_VALUE;
    uint16_t first = get16(x->pdu + 1), n = get16(x->pdu + 3);
    size_t bytes = x->pdu[5];
    if (n < 1 || n > MODBUS_MAX_WRITE_BITS || bytes != (n + 7u) / 8 || x->n != 6 + bytes)
        return BAD_VALUE;
    uint8_t exception = write_bits(x, first, n, x->pdu + 6);
    echo(x, 5);
    return exception;
}

static uint8_t write_many_registers(struct exchange *x)
{
    if (x->n < 6)
        return BAD_VALUE;
    uint16_t first = get16(x->pdu + 1), n = get16(x->pdu + 3);
    size_t bytes = x->pdu[5];
    if (n < 1 || n > MODBUS_MAX_WRITE_REGISTERS || bytes != (size_t)n * 2 || x->n != 6 + bytes)
        return BAD_VALUE;
    uint8_t exception = write_registers(x, first, n, x->pdu + 6);
    echo(x, 5);
    return exception;
}

/* Checks the address, then the masks (APP figure 26); even in a request of the wrong length the address is checked
 * first. */
static uint8_t mask_write(struct exchange *x)
{
    if (x->n < 3)
        return BAD_VALUE;
    uint16_t address = get16(x->pdu + 1);
    if (face_layout_writable(x->r->layout, address, 1) == FACE_NO_BLOCK)
        return BAD_ADDRESS;
    if (x->n != 7)
        return BAD_VALUE;
    uint16_t and_mask = get16(x->pdu + 3), or_mask = get16(x->pdu + 5);
    uint16_t word = (uint16_t)((x->r->holding[address] & and_mask) | (or_mask & ~and_mask));
    uint8_t exception = face_write(x->r, x->client, address, 1, &word);
    echo(x, 7);
    return exception;
}

/* Checks both quantities and the byte count, then all addresses; writes before it reads (APP 6.17, figure 27). */
static uint8_t write_and_read(struct exchange *x)
{
    if (x->n < 10)
        return BAD_VALUE;
    uint16_t read_first = get16(x->pdu + 1), n_read = get16(x->pdu + 3);
    uint16_t write_first = get16(x->pdu + 5), n_write = get16(x->pdu + 7);
    size_t bytes = x->pdu[9];
    if (n_read < 1 || n_read > MODBUS_MAX_WR_READ_REGISTERS || n_write < 1 || n_write > MODBUS_MAX_WR_WRITE_REGISTERS ||
        bytes != (size_t)n_write * 2 || x->n != 10 + bytes)
        return BAD_VALUE;
    if (!face_layout_has_holding(x->r->layout, read_first, n_read))
        return BAD_ADDRESS;
    uint8_t exception = write_registers(x, write_first, n_write, x->pdu + 10);
    if (exception != OK)
        return exception;
    face_read_holding(x->r, x->client, read_first, n_read, x->out + 2);
    put_read_header(x, n_read);
    return OK;
}

/* ---- identification ------------------------------------------------------------------------------------ */

static uint8_t encapsulated(struct exchange *x)
{
    uint8_t exception = OK;
    if (x->n >= 2 && x->pdu[1] != FACE_MEI_IDENTITY)
        return MODBUS_EXCEPTION_ILLEGAL_FUNCTION;
    if (x->n != 4)
        return BAD_VALUE;
    x->n_out = face_identity_answer(&x->r->config->identity, x->r->station, x->pdu[2], x->pdu[3], x->out, &exception);
    return exception;
}

/* ---- all of them --------------------------------------------------------------------------------------- */

static uint8_t answer_function(struct exchange *x)
{
    switch (x->pdu[0]) {
    case MODBUS_FC_READ_COILS:
    case MODBUS_FC_READ_DISCRETE_INPUTS: return read_bits(x);
    case MODBUS_FC_READ_HOLDING_REGISTERS:
    case MODBUS_FC_READ_INPUT_REGISTERS: return read_registers(x);
    case MODBUS_FC_WRITE_SINGLE_COIL: return write_one_bit(x);
    case MODBUS_FC_WRITE_SINGLE_REGISTER: return write_one_register(x);
    case MODBUS_FC_WRITE_MULTIPLE_COILS: return write_many_bits(x);
    case MODBUS_FC_WRITE_MULTIPLE_REGISTERS: return write_many_registers(x);
    case MODBUS_FC_MASK_WRITE_REGISTER: return mask_write(x);
    case MODBUS_FC_WRITE_AND_READ_REGISTERS: return write_and_read(x);
    case FACE_FC_ENCAPSULATED: return encapsulated(x);
    default: return MODBUS_EXCEPTION_ILLEGAL_FUNCTION; /* 07, 08, 11, 12 and 17 exist only on serial lines */
    }
}

void face_stations_map_unit_ids(struct face_stations *stations)
{
    const struct kr_face_config *config = stations->config;
    memset(stations->by_unit_id, FACE_NO_STATION, sizeof stations->by_unit_id);
    for (uint16_t i = 0; i < config->n_stations; i++)
        stations->by_unit_id[config->station[i].unit_id] = (uint8_t)i;
    uint8_t meant = FACE_NO_STATION;
    if (config->n_stations == 1)
        meant = 0;
    else if (config->default_station < config->n_stations)
        meant = (uint8_t)config->default_station;
    stations->by_unit_id[0] = stations->by_unit_id[255] = meant;
}

/* The code of an exception is the function code with its highest bit set. The bit is or-ed, so that the answer to a
 * request of 83h does not look like an answer to function 03. */
size_t face_answer(struct face_stations *stations, const struct face_client *client, const uint8_t *adu, size_t n,
                   uint8_t *out)
{
    struct exchange x = {
        .client = client,
        .pdu = adu + FACE_MBAP_BYTES,
        .n = n - FACE_MBAP_BYTES,
        .out = out + FACE_MBAP_BYTES,
    };
    uint8_t station = stations->by_unit_id[adu[6]], exception;
    if (station == FACE_NO_STATION) {
        exception = MODBUS_EXCEPTION_GATEWAY_PATH;
    } else if (face_client_right(client, station) == KR_RIGHT_NONE) {
        exception = MODBUS_EXCEPTION_ILLEGAL_FUNCTION;
        face_audit(stations->registers[station].notes, KR_AUDIT_REFUSED, station + 1u, client->text, client->port,
                   "exception 01", "asks with function %u, and has no right at this station", adu[FACE_MBAP_BYTES]);
    } else {
        x.r = &stations->registers[station];
        exception = answer_function(&x);
        if (exception != OK || x.pdu[0] != MODBUS_FC_READ_INPUT_REGISTERS)
            face_registers_judge(x.r, client, x.pdu, x.n, exception);
    }
    if (exception != OK) {
        x.out[0] = (uint8_t)(x.pdu[0] | FACE_EXCEPTION_BIT);
        x.out[1] = exception;
        x.n_out = 2;
    }
    memcpy(out, adu, FACE_MBAP_BYTES); /* transaction, protocol and unit are the request's */
    put16(out + 4, (uint16_t)(1 + x.n_out));
    return FACE_MBAP_BYTES + x.n_out;
}
