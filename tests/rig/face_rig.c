#include "face_rig.h"

#include <arpa/inet.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "wire.h"

/* ---- hex ------------------------------------------------------------------------------------------------------- */

size_t hex_read(const char *hex, uint8_t *bytes, size_t size)
{
    size_t n = 0;
    for (const char *at = hex; *at != '\0';) {
        unsigned value;
        if (*at == ' ') {
            at++;
            continue;
        }
        ck_assert_msg(sscanf(at, "%2x", &value) == 1 && n < size, "not hex, or too long: %s", hex);
        bytes[n++] = (uint8_t)value;
        at += 2;
    }
    return n;
}

void hex_write(const uint8_t *bytes, size_t n, char *hex, size_t size)
{
    size_t used = 0;
    hex[0] = '\0';
    for (size_t i = 0; i < n && used + 4 < size; i++)
        used += (size_t)sprintf(hex + used, "%s%02X", i > 0 ? " " : "", bytes[i]);
}

/* ---- configuration --------------------------------------------------------------------------------------------- */

struct kr_prefix prefix_of(const char *text)
{
    struct kr_prefix prefix;
    ck_assert_msg(kr_prefix_from_text(text, &prefix), "not a prefix: %s", text);
    return prefix;
}

/* The rights of the addresses: 127.0.0.1 and .4 may maintain (as all of loopback), .2 and .5 control, .3 read, .9
 * nothing. */
struct kr_face_config face_rig_defaults(void)
{
    struct kr_face_config config = {
        .n_listen = 1,
        .listen = {{"127.0.0.1", 0}},
        .n_stations = 2,
        .station = {{.name = "north", .unit_id = 1}, {.name = "south", .unit_id = 2}},
        .default_station = 0,
        .limits = kr_face_limits_default(),
        .n_rules = 4,
        .identity = {"Vendor", "Code", "1.0", "", "Name", "", ""},
    };
    config.rule[0] = (struct kr_face_rule){prefix_of("127.0.0.2"), KR_RIGHT_CONTROL, 0};
    config.rule[1] = (struct kr_face_rule){prefix_of("127.0.0.3"), KR_RIGHT_READ, 0};
    config.rule[2] = (struct kr_face_rule){prefix_of("127.0.0.5"), KR_RIGHT_CONTROL, 0};
    config.rule[3] = (struct kr_face_rule){prefix_of("127.0.0.9"), KR_RIGHT_NONE, 0};
    return config;
}

struct face_client client_at(const struct kr_face_config *config, const char *address)
{
    struct face_client client;
    struct sockaddr_in v4 = {.sin_family = AF_INET, .sin_port = htons(40000)};
    struct sockaddr_in6 v6 = {.sin6_family = AF_INET6, .sin6_port = htons(40000)};
    const void *from = &v4;
    if (inet_pton(AF_INET, address, &v4.sin_addr) != 1) {
        ck_assert_int_eq(inet_pton(AF_INET6, address, &v6.sin6_addr), 1);
        from = &v6;
    }
    ck_assert(face_client_from_sockaddr(&client, from, config));
    return client;
}

/* ---- without sockets ------------------------------------------------------------------------------------------- */

static void keep_line(char log[8][FACE_NOTE_BYTES], unsigned *n_log, const char *text)
{
    snprintf(log[(*n_log)++ % 8], FACE_NOTE_BYTES, "%s", text);
}

static void pure_log(void *arg, int priority, const char *text)
{
    struct pure *p = arg;
    (void)priority;
    keep_line(p->log, &p->n_log, text);
}

struct pure *pure_new(const struct kr_face_config *config)
{
    struct pure *p = calloc(1, sizeof *p);
    ck_assert_ptr_nonnull(p);
    p->config = *config;
    face_notes_init(&p->notes, &(struct kr_face_hooks){.arg = p, .log = pure_log}, &p->left_out);
    face_layout_build(&p->layout);
    for (uint16_t i = 0; i < 2; i++)
        face_registers_init(&p->registers[i], &p->layout, &p->config, &p->config.station[i], &p->notes);
    p->stations.config = &p->config;
    p->stations.registers = p->registers;
    face_stations_map_unit_ids(&p->stations);
    return p;
}

void pure_free(struct pure *p)
{
    free(p);
}

const char *pure_ask_unit(struct pure *p, const struct face_client *client, uint8_t unit, const char *pdu)
{
    static char hex[8][FACE_RIG_HEX_BYTES];
    static unsigned next;
    char *answer = hex[next++ % 8];
    uint8_t *adu = malloc(FACE_ADU_BYTES_MAX),
            /* The exact size, so that the sanitizer notices any byte beyond it */
        *out = malloc(FACE_ADU_BYTES_MAX);
    size_t n = 7 + hex_read(pdu, adu + 7, FACE_PDU_BYTES_MAX);
    memcpy(adu, (uint8_t[]){0x15, 0x01, 0, 0, 0, (uint8_t)(n - 6), unit}, 7);
    adu = realloc(adu, n);
    size_t n_out = face_answer(&p->stations, client, adu, n, out);
    ck_assert_uint_ge(n_out, 9);
    ck_assert_uint_le(n_out, FACE_ADU_BYTES_MAX);
    ck_assert_mem_eq(out, adu, 4);
    ck_assert_uint_eq(get16(out + 4), n_out - 6);
    ck_assert_uint_eq(out[6], unit);
    hex_write(out + 7, n_out - 7, answer, FACE_RIG_HEX_BYTES);
    free(adu);
    free(out);
    return answer;
}

const char *pure_ask(struct pure *p, const struct face_client *client, const char *pdu)
{
    return pure_ask_unit(p, client, 1, pdu);
}

uint16_t pure_holding(struct pure *p, enum kr_reg reg)
{
    return p->registers[0].holding[kr_reg_address(reg, 0, 0)];
}

uint16_t pure_input(struct pure *p, const struct face_client *client, enum kr_reg reg)
{
    char pdu[32];
    unsigned value;
    snprintf(pdu, sizeof pdu, "04 %04X 0001", kr_reg_address(reg, 0, 0));
    const char *answer = pure_ask(p, client, pdu);
    unsigned high, low;
    ck_assert_msg(sscanf(answer, "04 02 %2x %2x", &high, &low) == 2, "%s", answer);
    value = high << 8 | low;
    return (uint16_t)value;
}

bool pure_write(struct pure *p, const struct face_client *client, enum kr_reg reg, uint16_t value)
{
    char pdu[32];
    snprintf(pdu, sizeof pdu, "06 %04X %04X", kr_reg_address(reg, 0, 0), value);
    return strncmp(pure_ask(p, client, pdu), "06", 2) == 0;
}

struct kr_face_take pure_cycle(struct pure *p, bool busy, bool moving, bool drop_control)
{
    static struct kr_image image;
    struct kr_face_take take;
    face_registers_take(&p->registers[0], &take);
    kr_image_clear(&image, p->config.station[0].format);
    kr_image_set_32(&image, KR_REG_WORD_ORDER_PROOF, 0, 0, KR_MAP_WORD_ORDER_PROOF);
    struct kr_face_state state = {.request_busy = busy,
                                  .edit_busy = busy,
                                  .drop_control = drop_control,
                                  .moving = moving,
                                  .control_generation = take.control_generation};
    face_registers_publish(&p->registers[0], &image, &state);
    return take;
}

/* ---- with sockets ---------------------------------------------------------------------------------------------- */

static bool rig_cycle_due(void *arg)
{
    struct face_rig *rig = arg;
    rig->asked++;
    return rig->cycle_due || (rig->due_after > 0 && ++rig->asked_in_turn > rig->due_after);
}

static void rig_log(void *arg, int priority, const char *text)
{
    struct face_rig *rig = arg;
    (void)priority;
    keep_line(rig->log, &rig->n_log, text);
}

void face_rig_start(struct face_rig *rig, const struct kr_face_config *config)
{
    char error[200] = "";
    memset(rig, 0, sizeof *rig);
    ck_assert_int_eq(uv_loop_init(&rig->loop), 0);
    struct kr_face_hooks hooks = {.arg = rig, .cycle_due = rig_cycle_due, .log = rig_log};
    rig->face = kr_face_open(&rig->loop, config, &hooks, error, sizeof error);
    ck_assert_msg(rig->face != NULL, "%s", error);
}

static void on_face_closed(void *arg)
{
    struct face_rig *rig = arg;
    rig->closed = true;
}

void face_rig_end(struct face_rig *rig)
{
    kr_face_close(rig->face, on_face_closed, rig);
    uv_run(&rig->loop, UV_RUN_DEFAULT);
    ck_assert(rig->closed);
    ck_assert_int_eq(uv_loop_close(&rig->loop), 0);
}

size_t face_rig_put_read(uint8_t *at, uint16_t transaction, uint16_t first, uint16_t n)
{
    const uint8_t request[12] = {[5] = 6, [6] = 1, [7] = 4};
    memcpy(at, request, sizeof request);
    put16(at, transaction);
    put16(at + 8, first);
    put16(at + 10, n);
    return sizeof request;
}

void face_rig_cycle(struct face_rig *rig)
{
    rig->asked_in_turn = 0;
    uv_run(&rig->loop, UV_RUN_NOWAIT);
}

void face_rig_run_ms(struct face_rig *rig, uint64_t ms)
{
    uint64_t end = uv_hrtime() + ms * 1000000;
    do {
        face_rig_cycle(rig);
        uv_sleep(1);
    } while (uv_hrtime() < end);
}

int face_rig_connect(struct face_rig *rig, const char *from)
{
    int fd = socket(AF_INET, SOCK_STREAM, 0);
    struct sockaddr_in local = {.sin_family = AF_INET};
    struct sockaddr_in peer = {.sin_family = AF_INET, .sin_port = htons(kr_face_port(rig->face))};
    ck_assert_int_ge(fd, 0);
    ck_assert_int_eq(inet_pton(AF_INET, from, &local.sin_addr), 1);
    ck_assert_int_eq(inet_pton(AF_INET, "127.0.0.1", &peer.sin_addr), 1);
    ck_assert_int_eq(bind(fd, (struct sockaddr *)&local, sizeof local), 0);
    ck_assert_int_eq(connect(fd, (struct sockaddr *)&peer, sizeof peer), 0);
    face_rig_cycle(rig);
    face_rig_cycle(rig);
    return fd;
}

void face_rig_send(struct face_rig *rig, int fd, const uint8_t *bytes, size_t n)
{
    while (n > 0) {
        ssize_t sent = send(fd, bytes, n, MSG_DONTWAIT | MSG_NOSIGNAL);
        if (sent < 0 && (errno == EAGAIN || errno == EWOULDBLOCK)) {
            face_rig_cycle(rig);
            continue;
        }
        if (sent < 0)
            return; /* the face has closed the connection; the test notices that when it receives */
        bytes += sent;
        n -= (size_t)sent;
    }
}

void face_rig_send_hex(struct face_rig *rig, int fd, const char *hex)
{
    uint8_t bytes[4096];
    face_rig_send(rig, fd, bytes, hex_read(hex, bytes, sizeof bytes));
}

/* Returns -1 if the peer has closed. */
static ssize_t receive_some(struct face_rig *rig, int fd, uint8_t *bytes, size_t n, uint64_t quiet_ms)
{
    uint64_t end = uv_hrtime() + quiet_ms * 1000000;
    do {
        face_rig_cycle(rig);
        ssize_t got = recv(fd, bytes, n, MSG_DONTWAIT);
        if (got > 0)
            return got;
        if (got == 0 || (errno != EAGAIN && errno != EWOULDBLOCK))
            return -1;
    } while (uv_hrtime() < end);
    return 0;
}

size_t face_rig_receive(struct face_rig *rig, int fd, uint8_t *bytes, size_t n)
{
    size_t got = 0;
    while (got < n) {
        ssize_t more = receive_some(rig, fd, bytes + got, n - got, 5000);
        if (more <= 0)
            break;
        got += (size_t)more;
    }
    return got;
}

const char *face_rig_frame(struct face_rig *rig, int fd, unsigned quiet_ms)
{
    static char hex[8][FACE_RIG_HEX_BYTES];
    static unsigned next;
    char *frame = hex[next++ % 8];
    uint8_t bytes[FACE_ADU_BYTES_MAX];
    size_t n = 0, need = 6;
    while (n < need) {
        ssize_t got = receive_some(rig, fd, bytes + n, need - n, quiet_ms);
        if (got <= 0)
            return got < 0 ? "closed" : "nothing";
        n += (size_t)got;
        if (n >= 6)
            need = 6u + get16(bytes + 4);
        ck_assert_uint_le(need, sizeof bytes);
    }
    hex_write(bytes, n, frame, FACE_RIG_HEX_BYTES);
    return frame;
}

const char *face_rig_ask(struct face_rig *rig, int fd, const char *adu)
{
    face_rig_send_hex(rig, fd, adu);
    return face_rig_frame(rig, fd, 5000);
}

bool face_rig_is_closed(struct face_rig *rig, int fd, unsigned within_ms)
{
    uint8_t byte;
    return receive_some(rig, fd, &byte, 1, within_ms) < 0;
}
