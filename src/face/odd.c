#include "odd.h"

#include <string.h>

#include "wire.h"

static uint16_t at(const uint8_t *pdu, size_t n, size_t offset)
{
    return offset + 2 <= n ? get16(pdu + offset) : 0;
}

struct face_request face_request_of(const uint8_t *pdu, size_t n)
{
    struct face_request r = {.function = pdu[0], .first = at(pdu, n, 1), .n = at(pdu, n, 3)};
    switch (pdu[0]) {
    case MODBUS_FC_WRITE_SINGLE_REGISTER:
    case MODBUS_FC_WRITE_SINGLE_COIL:
        r.value = r.n;
        r.n = 1;
        r.writes = true;
        break;
    case MODBUS_FC_WRITE_MULTIPLE_REGISTERS:
    case MODBUS_FC_WRITE_MULTIPLE_COILS:
        r.value = at(pdu, n, 6);
        r.writes = true;
        break;
    case MODBUS_FC_MASK_WRITE_REGISTER:
        r.n = 1;
        r.writes = true;
        break;
    case MODBUS_FC_WRITE_AND_READ_REGISTERS:
        r.first = at(pdu, n, 5);
        r.n = at(pdu, n, 7);
        r.value = at(pdu, n, 10);
        r.writes = true;
        break;
    default: break;
    }
    return r;
}

static bool is_of_registers(const struct face_request *r)
{
    return r->function != MODBUS_FC_WRITE_SINGLE_COIL && r->function != MODBUS_FC_WRITE_MULTIPLE_COILS;
}

static enum kr_odd_reason of_missing_address(const struct face_layout *layout, const struct face_request *r)
{
    if (!r->writes || !is_of_registers(r))
        return KR_ODD_NO_ADDRESS;
    if (r->first >= KR_MAP_WINDOW)
        return KR_ODD_READ_ONLY;
    uint32_t last = (uint32_t)r->first + r->n - 1u;
    bool both = r->n > 0 && last < KR_MAP_HOLDING_WORDS && layout->block[r->first] != FACE_NO_BLOCK &&
                layout->block[last] != FACE_NO_BLOCK;
    return both ? KR_ODD_LEAVES_BLOCK : KR_ODD_NO_ADDRESS;
}

static enum kr_odd_reason of_exception(const struct face_layout *layout, const struct face_request *r,
                                       uint8_t exception, bool may_control)
{
    switch (exception) {
    case MODBUS_EXCEPTION_ILLEGAL_FUNCTION:
        return !r->writes ? KR_ODD_FUNCTION : may_control ? KR_ODD_NOT_IN_CONTROL : KR_ODD_NO_RIGHT;
    case MODBUS_EXCEPTION_ILLEGAL_DATA_ADDRESS: return of_missing_address(layout, r);
    case MODBUS_EXCEPTION_SLAVE_OR_SERVER_BUSY: return KR_ODD_BUSY;
    default: return KR_ODD_MALFORMED;
    }
}

static bool writes_to(const struct face_request *r, enum kr_reg reg)
{
    uint16_t address = kr_reg_address(reg, 0, 0);
    return address >= r->first && address < (uint32_t)r->first + r->n;
}

/* The command is a number or an output that makes no sense: the PLC may have written the registers one address too
 * high, or forgotten the number. */
static enum kr_odd_reason of_command(const uint16_t *holding, const struct face_request *r)
{
    if (writes_to(r, KR_REG_COMMAND_OUTPUT) && holding[kr_reg_address(KR_REG_COMMAND_OUTPUT, 0, 0)] != 0 &&
        holding[kr_reg_address(KR_REG_COMMAND_JOB, 0, 0)] != KR_JOB_TRY)
        return KR_ODD_ONE_TOO_HIGH;
    if (writes_to(r, KR_REG_COMMAND_NUMBER) && holding[kr_reg_address(KR_REG_COMMAND_NUMBER, 0, 0)] == 0 &&
        holding[kr_reg_address(KR_REG_COMMAND, 0, 0)] != 0)
        return KR_ODD_NUMBER_0;
    return KR_ODD_NONE;
}

static enum kr_odd_reason of_write(const struct face_layout *layout, const uint16_t *holding,
                                   const struct face_request *r)
{
    if (r->n == 0 || (uint32_t)r->first + r->n > KR_MAP_HOLDING_WORDS)
        return KR_ODD_NONE;
    if (layout->half[r->first] == FACE_SECOND_HALF || layout->half[r->first + r->n - 1] == FACE_FIRST_HALF)
        return KR_ODD_HALF_VALUE;
    if (r->n == 1 && r->value != 0 && layout->kept[r->first] == 0 && r->first != kr_reg_address(KR_REG_HALT, 0, 0))
        return KR_ODD_KEPT_NOWHERE;
    return layout->block[r->first] == KR_BLOCK_COMMAND ? of_command(holding, r) : KR_ODD_NONE;
}

/* The blocks that clients write are short. A client that reads several of them at once may take them for the blocks in
 * which the gateway shows its state. */
static enum kr_odd_reason of_read(const struct face_layout *layout, const struct face_request *r)
{
    uint32_t last = (uint32_t)r->first + r->n - 1u;
    return last < KR_MAP_HOLDING_WORDS && layout->block[r->first] != layout->block[last] ? KR_ODD_READS_WRITTEN
                                                                                         : KR_ODD_NONE;
}

enum kr_odd_reason face_odd_reason(const struct face_layout *layout, const uint16_t *holding,
                                   const struct face_request *request, uint8_t exception, bool may_control)
{
    if (exception != 0)
        return of_exception(layout, request, exception, may_control);
    if (request->function == MODBUS_FC_READ_HOLDING_REGISTERS)
        return of_read(layout, request);
    return request->writes && is_of_registers(request) ? of_write(layout, holding, request) : KR_ODD_NONE;
}

/* Returns the client's place, else a free one, else the place of the client that was quiet for the longest time. */
static struct face_odd *place_of(struct face_odd places[FACE_ODD_CLIENTS], const struct face_client *client)
{
    struct face_odd *best = &places[0];
    for (size_t i = 0; i < FACE_ODD_CLIENTS; i++) {
        if (places[i].count != 0 && memcmp(places[i].address, client->address, sizeof client->address) == 0)
            return &places[i];
        if (best->count != 0 && (places[i].count == 0 || places[i].at_ms < best->at_ms))
            best = &places[i];
    }
    memset(best, 0, sizeof *best);
    memcpy(best->address, client->address, sizeof best->address);
    return best;
}

bool face_odd_keep(struct face_odd places[FACE_ODD_CLIENTS], const struct face_client *client,
                   const struct face_request *request, enum kr_odd_reason reason, uint8_t exception, uint64_t now_ms)
{
    struct face_odd *odd = place_of(places, client);
    bool is_other = odd->reason != reason || odd->function != request->function || odd->first != request->first;
    odd->count = (uint16_t)(odd->count % UINT16_MAX + 1u);
    odd->reason = (uint16_t)reason;
    odd->function = request->function;
    odd->first = request->first;
    odd->n = request->n;
    odd->value = request->value;
    odd->exception = exception;
    odd->at_ms = now_ms;
    return is_other;
}

static uint16_t word_of(const struct face_odd *odd, bool low_word_first, uint16_t address, uint64_t now_ms)
{
    uint32_t age_s = (uint32_t)((now_ms - odd->at_ms) / 1000);
    uint16_t age = kr_reg_address(KR_REG_ODD_AGE, 0, 0);
    if (address == age || address == age + 1)
        return (uint16_t)((address == age) == low_word_first ? age_s : age_s >> 16);
    const struct {
        enum kr_reg reg;
        uint16_t word;
    } words[] = {{KR_REG_ODD_COUNT, odd->count},        {KR_REG_ODD_REASON, odd->reason},
                 {KR_REG_ODD_FUNCTION, odd->function},  {KR_REG_ODD_ADDRESS, odd->first},
                 {KR_REG_ODD_REGISTERS, odd->n},        {KR_REG_ODD_VALUE, odd->value},
                 {KR_REG_ODD_EXCEPTION, odd->exception}};
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        if (kr_reg_address(words[i].reg, 0, 0) == address)
            return words[i].word;
    return 0;
}

uint16_t face_odd_word(const struct face_odd places[FACE_ODD_CLIENTS], const struct face_client *client,
                       bool low_word_first, uint16_t address, uint64_t now_ms)
{
    for (size_t i = 0; i < FACE_ODD_CLIENTS; i++)
        if (places[i].count != 0 && memcmp(places[i].address, client->address, sizeof client->address) == 0)
            return word_of(&places[i], low_word_first, address, now_ms);
    return 0;
}
