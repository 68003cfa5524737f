/* face_libmodbus: libmodbus's own client, asking all it can of a face. Usage: face_libmodbus PORT. Prints
 * what is not as it should be and ends with 1; else with 0. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <modbus.h>

static int faults;

#define EXPECT(condition) \
    do { \
        if (!(condition)) { \
            fprintf(stderr, "%s:%d: not so: %s (%s)\n", __FILE__, __LINE__, #condition, modbus_strerror(errno)); \
            faults++; \
        } \
    } while (0)
#define EXPECT_ERROR(call, error) EXPECT((errno = 0, (call) == -1 && errno == (error)))

enum { ACCESS = 16, COMMAND = 32, ORDER_NUMBER = 100, WINDOW = 10000 };

static void read_all_kinds(modbus_t *ctx)
{
    uint8_t bits[MODBUS_MAX_READ_BITS];
    uint16_t words[MODBUS_MAX_READ_REGISTERS];
    EXPECT(modbus_read_bits(ctx, 0, 16, bits) == 16);
    EXPECT(modbus_read_input_bits(ctx, 1000, 128, bits) == 128);
    EXPECT(modbus_read_registers(ctx, 96, 125, words) == 125);
    EXPECT(modbus_read_input_registers(ctx, 0, 125, words) == 125);
    EXPECT(words[0] == 0x0102 && words[1] == 0x0304);
    EXPECT(modbus_read_registers(ctx, WINDOW, 2, words) == 2);
    EXPECT(words[0] == 0x0102 && words[1] == 0x0304);
    EXPECT_ERROR(modbus_read_registers(ctx, 60000, 1, words), EMBXILADD);
    EXPECT_ERROR(modbus_read_input_registers(ctx, 9999, 2, words), EMBXILADD);
    EXPECT_ERROR(modbus_read_bits(ctx, 16, 1, bits), EMBXILADD);
    EXPECT_ERROR(modbus_read_input_bits(ctx, 64, 1, bits), EMBXILADD);
}

static void write_all_kinds(modbus_t *ctx)
{
    uint8_t bits[16] = {1, 0, 1, 0, 1};
    uint16_t words[MODBUS_MAX_WR_READ_REGISTERS], some[123];
    for (uint16_t i = 0; i < 123; i++)
        some[i] = (uint16_t)(i + 1);
    EXPECT(modbus_write_register(ctx, ACCESS, 1) == 1);
    EXPECT(modbus_write_bit(ctx, 1, 1) == 1);
    EXPECT(modbus_read_registers(ctx, 1, 1, words) == 1 && words[0] == 2);
    EXPECT(modbus_write_bits(ctx, 0, 16, bits) == 16);
    EXPECT(modbus_read_registers(ctx, 1, 1, words) == 1 && words[0] == 0x15);
    EXPECT(modbus_write_registers(ctx, 120, 123, some) == 123);
    EXPECT(modbus_read_registers(ctx, 120, 123, words) == 123 && memcmp(words, some, sizeof some) == 0);
    EXPECT(modbus_write_register(ctx, ORDER_NUMBER, 0x12) == 1);
    EXPECT(modbus_mask_write_register(ctx, ORDER_NUMBER, 0xF2, 0x25) == 1);
    EXPECT(modbus_read_registers(ctx, ORDER_NUMBER, 1, words) == 1 && words[0] == 0x17); /* APP 6.16 */
    EXPECT(modbus_write_and_read_registers(ctx, 120, 121, some, 120, 125, words) == 125);
    EXPECT(memcmp(words, some, 121 * sizeof some[0]) == 0);
    EXPECT_ERROR(modbus_write_register(ctx, WINDOW, 1), EMBXILADD);
    EXPECT_ERROR(modbus_write_registers(ctx, 399, 2, some), EMBXILADD);
    EXPECT_ERROR(modbus_write_bit(ctx, 16, 1), EMBXILADD);
    EXPECT(modbus_write_register(ctx, ACCESS, 2) == 1);
    EXPECT_ERROR(modbus_write_register(ctx, ORDER_NUMBER, 1), EMBXILFUN); /* without control */
}

static void ask_other_units(modbus_t *ctx)
{
    uint16_t words[2];
    uint8_t id[64];
    EXPECT_ERROR(modbus_report_slave_id(ctx, sizeof id, id), EMBXILFUN); /* serial line only */
    EXPECT(modbus_set_slave(ctx, 2) == 0);
    EXPECT(modbus_read_input_registers(ctx, 0, 2, words) == 2);
    EXPECT(words[0] == 0x0304 && words[1] == 0x0102); /* low word first there */
    EXPECT(modbus_set_slave(ctx, 77) == 0);
    EXPECT_ERROR(modbus_read_input_registers(ctx, 0, 2, words), EMBXGPATH);
    EXPECT(modbus_set_slave(ctx, MODBUS_TCP_SLAVE) == 0);
    EXPECT(modbus_read_input_registers(ctx, 0, 2, words) == 2);
}

int main(int argc, char **argv)
{
    modbus_t *ctx = modbus_new_tcp("127.0.0.1", argc > 1 ? atoi(argv[1]) : 0);
    if (ctx == NULL || modbus_set_slave(ctx, 1) != 0 || modbus_connect(ctx) != 0) {
        fprintf(stderr, "no connection: %s\n", modbus_strerror(errno));
        return EXIT_FAILURE;
    }
    read_all_kinds(ctx);
    write_all_kinds(ctx);
    ask_other_units(ctx);
    modbus_close(ctx);
    modbus_free(ctx);
    return faults == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
