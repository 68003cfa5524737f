/* Tests of the face over sockets: its limits, which connections are closed for others, and how it is opened, reloaded
 * and closed. */
#include <arpa/inet.h>
#include <netinet/tcp.h>
#include <stdio.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <unistd.h>

#include "face_rig.h"
#include "server.h"
#include "suite.h"
#include "wire.h"

static struct face_rig rig;

static void open_rig(void)
{
    struct kr_face_config config = face_rig_defaults();
    face_rig_start(&rig, &config);
}

static void close_rig(void)
{
    face_rig_end(&rig);
}

/* ---- limits -------------------------------------------------------------------------------------------- */

START_TEST(half_a_frame_is_given_its_time_and_no_more_even_if_it_dribbles)
{
    struct kr_face_config config = face_rig_defaults();
    config.limits.partial_ms = 150;
    face_rig_start(&rig, &config);
    int fd = face_rig_connect(&rig, "127.0.0.1");
    uint8_t request[12];
    hex_read(ASK_PROOF, request, sizeof request);
    uint64_t start = uv_hrtime();
    unsigned i = 0;
    while (!face_rig_is_closed(&rig, fd, 40) && i < 11)
        face_rig_send(&rig, fd, request + i++, 1);
    uint64_t took_ms = (uv_hrtime() - start) / 1000000;
    ck_assert_uint_ge(took_ms, 150);
    ck_assert_uint_lt(i, 8);
    ck_assert_uint_eq(kr_face_counters(rig.face)->expired, 1);
    close(fd);
    face_rig_end(&rig);
}
END_TEST

/* The kernel takes its time to close a connection that is full; a cycle must not wait for many of them. */
START_TEST(connections_that_expire_together_are_closed_a_few_at_a_time)
{
    enum { N = 30 };
    struct kr_face_config config = face_rig_defaults();
    config.limits.partial_ms = 50;
    config.limits.connections_per_address = N;
    face_rig_start(&rig, &config);
    int fd[N];
    for (int i = 0; i < N; i++) {
        fd[i] = face_rig_connect(&rig, "127.0.0.1");
        face_rig_send_hex(&rig, fd[i], "0001 00");
    }
    uint64_t expired = 0, end = uv_hrtime() + 5000000000u;
    while (expired < N && uv_hrtime() < end) {
        face_rig_cycle(&rig);
        ck_assert_uint_le(kr_face_counters(rig.face)->expired - expired, 4);
        expired = kr_face_counters(rig.face)->expired;
    }
    ck_assert_uint_eq(expired, N);
    for (int i = 0; i < N; i++)
        close(fd[i]);
    face_rig_end(&rig);
}
END_TEST

START_TEST(a_silent_connection_is_closed_after_the_idle_time_and_a_polling_one_is_not)
{
    struct kr_face_config config = face_rig_defaults();
    config.limits.idle_ms = 150;
    face_rig_start(&rig, &config);
    int silent = face_rig_connect(&rig, "127.0.0.1"), polling = face_rig_connect(&rig, "127.0.0.1");
    for (int i = 0; i < 8; i++) {
        face_rig_run_ms(&rig, 30);
        ck_assert_str_eq(face_rig_ask(&rig, polling, ASK_PROOF), ANSWER_PROOF);
    }
    ck_assert(face_rig_is_closed(&rig, silent, 100));
    close(silent);
    close(polling);
    face_rig_end(&rig);
}
END_TEST

START_TEST(an_address_gets_no_more_connections_than_its_limit_while_all_are_in_use)
{
    struct kr_face_config config = face_rig_defaults();
    config.limits.connections_per_address = 2;
    face_rig_start(&rig, &config);
    int a = face_rig_connect(&rig, "127.0.0.1"), b = face_rig_connect(&rig, "127.0.0.1"),
        c = face_rig_connect(&rig, "127.0.0.1");
    int other = face_rig_connect(&rig, "127.0.0.2");
    ck_assert(face_rig_is_closed(&rig, c, 1000));
    ck_assert_str_eq(face_rig_ask(&rig, a, ASK_PROOF), ANSWER_PROOF);
    ck_assert_str_eq(face_rig_ask(&rig, b, ASK_PROOF), ANSWER_PROOF);
    ck_assert_str_eq(face_rig_ask(&rig, other, ASK_PROOF), ANSWER_PROOF);
    ck_assert_uint_eq(kr_face_counters(rig.face)->refused, 1);
    close(a), close(b), close(c), close(other);
    face_rig_end(&rig);
}
END_TEST

/* A PLC that was switched off and on again finds its old connections still standing. */
START_TEST(an_address_at_its_limit_loses_its_own_silent_connection_for_a_new_one)
{
    struct kr_face_config config = face_rig_defaults();
    config.limits.connections_per_address = 2;
    face_rig_start(&rig, &config);
    int ghost = face_rig_connect(&rig, "127.0.0.2"), b = face_rig_connect(&rig, "127.0.0.2");
    face_rig_run_ms(&rig, 1050);
    ck_assert_str_eq(face_rig_ask(&rig, b, ASK_PROOF), ANSWER_PROOF);
    int c = face_rig_connect(&rig, "127.0.0.2");
    ck_assert_str_eq(face_rig_ask(&rig, c, ASK_PROOF), ANSWER_PROOF);
    ck_assert(face_rig_is_closed(&rig, ghost, 1000));
    ck_assert_str_eq(face_rig_ask(&rig, b, ASK_PROOF), ANSWER_PROOF);
    ck_assert_uint_eq(kr_face_counters(rig.face)->evicted, 1);
    close(ghost), close(b), close(c);
    face_rig_end(&rig);
}
END_TEST

START_TEST(when_all_places_are_taken_the_client_in_control_still_gets_in_and_is_never_put_out)
{
    struct kr_face_config config = face_rig_defaults();
    config.limits.connections = 3;
    face_rig_start(&rig, &config);
    int plc = face_rig_connect(&rig, "127.0.0.2");
    ck_assert_str_eq(face_rig_ask(&rig, plc, "0001 0000 0006 01 06 0010 0001"), "00 01 00 00 00 06 01 06 00 10 00 01");
    face_rig_run_ms(&rig, 1050); /* the PLC is the one silent longest from here on */
    int a = face_rig_connect(&rig, "127.0.0.1"), b = face_rig_connect(&rig, "127.0.0.1");
    ck_assert_str_eq(face_rig_ask(&rig, a, ASK_PROOF), ANSWER_PROOF);
    ck_assert_str_eq(face_rig_ask(&rig, b, ASK_PROOF), ANSWER_PROOF);
    int reader = face_rig_connect(&rig, "127.0.0.3");
    ck_assert(face_rig_is_closed(&rig, reader, 1000)); /* a and b are busy, and the PLC has control */
    int second = face_rig_connect(&rig, "127.0.0.2");
    ck_assert_str_eq(face_rig_ask(&rig, second, ASK_PROOF), ANSWER_PROOF);
    ck_assert_str_eq(face_rig_ask(&rig, plc, ASK_PROOF), ANSWER_PROOF);
    ck_assert(face_rig_is_closed(&rig, a, 1000));
    ck_assert_str_eq(face_rig_ask(&rig, b, ASK_PROOF), ANSWER_PROOF);
    close(plc), close(a), close(b), close(reader), close(second);
    face_rig_end(&rig);
}
END_TEST

#define READERS   4
#define OF_READER 16

/* 127.0.0.3 and 127.0.0.6 to .8 only read. */
static void open_with_readers(uint32_t connections)
{
    static const char *const readers[] = {"127.0.0.6", "127.0.0.7", "127.0.0.8"};
    struct kr_face_config config = face_rig_defaults();
    config.limits.connections = connections;
    config.limits.connections_per_address = OF_READER;
    for (int i = 0; i < 3; i++)
        config.rule[config.n_rules++] = (struct kr_face_rule){prefix_of(readers[i]), KR_RIGHT_READ, 0};
    face_rig_start(&rig, &config);
}

static int connect_reader(int number)
{
    static const char *const address[READERS] = {"127.0.0.3", "127.0.0.6", "127.0.0.7", "127.0.0.8"};
    return face_rig_connect(&rig, address[number % READERS]);
}

static bool answers(int fd)
{
    return strcmp(face_rig_ask(&rig, fd, ASK_PROOF), ANSWER_PROOF) == 0;
}

START_TEST(places_are_kept_for_those_who_may_command_however_many_readers_come)
{
    int fd[READERS * OF_READER], in = 0;
    open_with_readers(64);
    for (int i = 0; i < READERS * OF_READER; i++)
        fd[i] = connect_reader(i);
    for (int i = 0; i < READERS * OF_READER; i++)
        in += answers(fd[i]);
    ck_assert_int_eq(in, 56); /* an eighth of 64 is kept */
    int plc = face_rig_connect(&rig, "127.0.0.2"), hmi = face_rig_connect(&rig, "127.0.0.5");
    ck_assert(answers(plc) && answers(hmi));
    ck_assert_uint_eq(kr_face_counters(rig.face)->evicted, 0);
    for (int i = 0; i < READERS * OF_READER; i++)
        close(fd[i]);
    close(plc), close(hmi);
    face_rig_end(&rig);
}
END_TEST

START_TEST(who_may_command_displaces_a_busy_reader_and_never_the_other_way_round)
{
    open_with_readers(4);
    int a = connect_reader(0), b = connect_reader(1), c = connect_reader(2);
    int hmi = face_rig_connect(&rig, "127.0.0.5");
    ck_assert(answers(hmi));
    ck_assert(answers(a) && answers(b) && answers(c));
    int plc = face_rig_connect(&rig, "127.0.0.2"); /* a was heard of first */
    ck_assert(answers(plc));
    ck_assert(face_rig_is_closed(&rig, a, 1000));
    ck_assert(answers(b) && answers(c) && answers(hmi));
    face_rig_run_ms(&rig, 1050); /* hmi and plc are silent, and the readers soon are not */
    ck_assert(answers(b) && answers(c));
    int reader = connect_reader(3);
    ck_assert(face_rig_is_closed(&rig, reader, 1000));
    ck_assert(answers(hmi) && answers(plc));
    close(a), close(b), close(c), close(hmi), close(plc), close(reader);
    face_rig_end(&rig);
}
END_TEST

/* A host may take any address of its network, 2 to the power of 64 of them. */
START_TEST(an_ipv6_network_of_64_bits_and_an_ipv4_address_count_as_one_host)
{
    static const struct {
        const char *a, *b;
        bool same;
    } pairs[] = {
        {"2001:db8:1:2::1", "2001:db8:1:2:ffff:ffff:ffff:ffff", true},
        {"2001:db8:1:2::1", "2001:db8:1:3::1", false},
        {"192.0.2.1", "192.0.2.1", true},
        {"192.0.2.1", "192.0.2.2", false},
        {"192.0.2.1", "::ffff:192.0.2.1", true},
        {"192.0.2.1", "::1", false}, /* their first 64 bits are 0 */
    };
    struct kr_face_config config = face_rig_defaults();
    for (size_t i = 0; i < sizeof pairs / sizeof pairs[0]; i++) {
        struct face_client a = client_at(&config, pairs[i].a), b = client_at(&config, pairs[i].b);
        ck_assert_msg(face_client_same_host(&a, &b) == pairs[i].same, "%s and %s", pairs[i].a, pairs[i].b);
        ck_assert_int_eq(face_client_same_host(&b, &a), pairs[i].same);
    }
}
END_TEST

START_TEST(an_address_without_any_right_is_turned_away)
{
    int fd = face_rig_connect(&rig, "127.0.0.9");
    ck_assert(face_rig_is_closed(&rig, fd, 1000));
    ck_assert_uint_eq(kr_face_counters(rig.face)->refused, 1);
    close(fd);
}
END_TEST

START_TEST(a_client_over_its_rate_waits_and_the_others_do_not)
{
    struct kr_face_config config = face_rig_defaults();
    config.limits.requests_per_s = 200; /* 20 at once */
    face_rig_start(&rig, &config);
    enum { N = 60 };
    static uint8_t requests[12 * N], answers[13 * N];
    int greedy = face_rig_connect(&rig, "127.0.0.1"), modest = face_rig_connect(&rig, "127.0.0.1");
    for (uint16_t i = 0; i < N; i++)
        face_rig_put_read(requests + 12 * i, i, 0, 2);
    uint64_t start = uv_hrtime();
    face_rig_send(&rig, greedy, requests, sizeof requests);
    ck_assert_str_eq(face_rig_ask(&rig, modest, ASK_PROOF), ANSWER_PROOF);
    ck_assert_uint_lt((uv_hrtime() - start) / 1000000, 100);
    ck_assert_uint_eq(face_rig_receive(&rig, greedy, answers, sizeof answers), sizeof answers);
    uint64_t took_ms = (uv_hrtime() - start) / 1000000;
    ck_assert_uint_ge(took_ms, 190); /* (60 - 20) / 200 a second, less a tick */
    close(greedy);
    close(modest);
    face_rig_end(&rig);
}
END_TEST

/* More connections at once than are accepted in a turn, twice as many as there are places, thousands of
 * times in all. */
START_TEST(thousands_of_connects_and_disconnects_leave_nothing_behind)
{
    struct kr_face_config config = face_rig_defaults();
    config.limits.connections = 20;
    config.limits.connections_per_address = 20;
    face_rig_start(&rig, &config);
    for (int round = 0; round < 100; round++) {
        int fd[40];
        for (int i = 0; i < 40; i++)
            fd[i] = face_rig_connect(&rig, "127.0.0.1");
        for (int i = 0; i < 40; i++)
            close(fd[i]);
        face_rig_run_ms(&rig, 2);
    }
    face_rig_run_ms(&rig, 10);
    ck_assert_uint_eq(kr_face_counters(rig.face)->connections, 0);
    ck_assert_uint_le(kr_face_counters(rig.face)->connections_most, 20);
    ck_assert_uint_eq(kr_face_counters(rig.face)->accepted + kr_face_counters(rig.face)->refused, 4000);
    int fd = face_rig_connect(&rig, "127.0.0.1");
    ck_assert_str_eq(face_rig_ask(&rig, fd, ASK_PROOF), ANSWER_PROOF);
    close(fd);
    face_rig_end(&rig);
}
END_TEST

/* ---- opening, reloading -------------------------------------------------------------------------------- */

START_TEST(a_port_that_is_taken_is_an_error_that_names_it_and_nothing_is_left)
{
    struct kr_face_config config = face_rig_defaults();
    char error[200] = "", want[64];
    face_rig_start(&rig, &config);
    config.n_listen = 2;
    config.listen[1] = config.listen[0];
    config.listen[1].port = kr_face_port(rig.face);
    ck_assert_ptr_null(kr_face_open(&rig.loop, &config, NULL, error, sizeof error));
    snprintf(want, sizeof want, "listen on 127.0.0.1 port %u: address already in use", config.listen[1].port);
    ck_assert_str_eq(error, want);
    face_rig_end(&rig);
}
END_TEST

START_TEST(a_setting_out_of_range_is_an_error_that_names_value_and_limit)
{
    struct kr_face_config config = face_rig_defaults();
    char error[200] = "";
    uv_loop_t loop;
    uv_loop_init(&loop);
    config.station[1].unit_id = 255;
    ck_assert_ptr_null(kr_face_open(&loop, &config, NULL, error, sizeof error));
    ck_assert_str_eq(error, "unit identifier: 255 is not possible; 1 to 254");
    config.station[1].unit_id = 1;
    ck_assert_ptr_null(kr_face_open(&loop, &config, NULL, error, sizeof error));
    ck_assert_str_eq(error, "unit identifier: 1 is used twice");
    config = face_rig_defaults();
    config.limits.connections = 5000;
    ck_assert_ptr_null(kr_face_open(&loop, &config, NULL, error, sizeof error));
    ck_assert_str_eq(error, "connections: 5000 is not possible; 1 to 4096");
    config = face_rig_defaults();
    memset(config.identity.vendor_name, 'x', sizeof config.identity.vendor_name);
    ck_assert_ptr_null(kr_face_open(&loop, &config, NULL, error, sizeof error));
    ck_assert_str_eq(error, "vendor name: longer than 120 characters");
    config = face_rig_defaults();
    strcpy(config.listen[0].address, "localhost");
    ck_assert_ptr_null(kr_face_open(&loop, &config, NULL, error, sizeof error));
    ck_assert_str_eq(error, "listen address: \"localhost\" is neither an IPv4 nor an IPv6 address");
    ck_assert_int_eq(uv_loop_close(&loop), 0);
}
END_TEST

START_TEST(more_connections_than_the_process_may_have_files_are_an_error_at_once)
{
    struct kr_face_config config = face_rig_defaults();
    struct rlimit limit;
    char error[200] = "";
    uv_loop_t loop;
    uv_loop_init(&loop);
    ck_assert_int_eq(getrlimit(RLIMIT_NOFILE, &limit), 0);
    limit.rlim_cur = 500;
    ck_assert_int_eq(setrlimit(RLIMIT_NOFILE, &limit), 0);
    config.limits.connections = 450;
    ck_assert_ptr_null(kr_face_open(&loop, &config, NULL, error, sizeof error));
    ck_assert_str_eq(error, "connections: 450 need 523 file descriptors; the process may open 500");
    ck_assert_int_eq(uv_loop_close(&loop), 0);
}
END_TEST

static int option_of(uv_tcp_t *tcp, int level, int option)
{
    int value = -1;
    socklen_t size = sizeof value;
    uv_os_fd_t fd;
    ck_assert_int_eq(uv_fileno((uv_handle_t *)tcp, &fd), 0);
    ck_assert_int_eq(getsockopt(fd, level, option, &value, &size), 0);
    return value;
}

/* MSG 4.3.2: TCP_NODELAY and SO_KEEPALIVE on the server's side, too. */
START_TEST(every_connection_sends_at_once_and_notices_a_dead_peer)
{
    int fd = face_rig_connect(&rig, "127.0.0.1");
    ck_assert_str_eq(face_rig_ask(&rig, fd, ASK_PROOF), ANSWER_PROOF);
    for (uint32_t i = 0; i < rig.face->n_slots; i++) {
        struct face_connection *c = &rig.face->slot[i];
        if (c->slot != FACE_SLOT_OPEN)
            continue;
        ck_assert_int_eq(option_of(&c->tcp, IPPROTO_TCP, TCP_NODELAY), 1);
        ck_assert_int_eq(option_of(&c->tcp, SOL_SOCKET, SO_KEEPALIVE), 1);
        int found_after_s =
            option_of(&c->tcp, IPPROTO_TCP, TCP_KEEPIDLE) +
            option_of(&c->tcp, IPPROTO_TCP, TCP_KEEPINTVL) * option_of(&c->tcp, IPPROTO_TCP, TCP_KEEPCNT);
        ck_assert_int_eq(found_after_s, 60);
    }
    close(fd);
}
END_TEST

/* A machine may be set up without IPv6; then there is nothing to test. */
static bool no_ipv6(void)
{
    int fd = socket(AF_INET6, SOCK_STREAM, 0);
    struct sockaddr_in6 loopback = {.sin6_family = AF_INET6, .sin6_addr = IN6ADDR_LOOPBACK_INIT};
    bool none = fd < 0 || bind(fd, (struct sockaddr *)&loopback, sizeof loopback) != 0;
    if (fd >= 0)
        close(fd);
    if (none)
        printf("no IPv6 on this machine: not tested\n");
    return none;
}

START_TEST(an_ipv6_client_is_served_and_has_the_rights_of_its_address)
{
    struct kr_face_config config = face_rig_defaults();
    if (no_ipv6())
        return;
    strcpy(config.listen[0].address, "::1");
    face_rig_start(&rig, &config);
    int fd = socket(AF_INET6, SOCK_STREAM, 0);
    struct sockaddr_in6 peer = {
        .sin6_family = AF_INET6, .sin6_addr = IN6ADDR_LOOPBACK_INIT, .sin6_port = htons(kr_face_port(rig.face))};
    ck_assert_int_eq(connect(fd, (struct sockaddr *)&peer, sizeof peer), 0);
    ck_assert_str_eq(face_rig_ask(&rig, fd, "0001 0000 0006 01 04 0045 0001"), "00 01 00 00 00 05 01 04 02 00 02");
    ck_assert_str_eq(face_rig_ask(&rig, fd, "0002 0000 0006 01 06 0010 0001"), "00 02 00 00 00 06 01 06 00 10 00 01");
    ck_assert_msg(strncmp(rig.log[0], "station north: ::1 port ", 24) == 0, "%s", rig.log[0]);
    close(fd);
    face_rig_end(&rig);
}
END_TEST

START_TEST(an_ipv4_client_of_a_dual_stack_listener_has_the_rights_of_its_ipv4_address)
{
    struct kr_face_config config = face_rig_defaults();
    if (no_ipv6())
        return;
    strcpy(config.listen[0].address, "::");
    face_rig_start(&rig, &config);
    int fd = face_rig_connect(&rig, "127.0.0.3");
    ck_assert_str_eq(face_rig_ask(&rig, fd, "0001 0000 0006 01 04 0045 0001"), "00 01 00 00 00 05 01 04 02 00 00");
    close(fd);
    fd = face_rig_connect(&rig, "127.0.0.2");
    ck_assert_str_eq(face_rig_ask(&rig, fd, "0001 0000 0006 01 04 0045 0001"), "00 01 00 00 00 05 01 04 02 00 01");
    close(fd);
    face_rig_end(&rig);
}
END_TEST

START_TEST(a_reload_changes_the_rights_of_standing_connections_at_once)
{
    struct kr_face_config config = face_rig_defaults();
    char error[200] = "";
    int plc = face_rig_connect(&rig, "127.0.0.2"), reader = face_rig_connect(&rig, "127.0.0.3");
    ck_assert_str_eq(face_rig_ask(&rig, plc, "0001 0000 0006 01 06 0010 0001"), "00 01 00 00 00 06 01 06 00 10 00 01");
    config.rule[0].right = KR_RIGHT_READ;
    config.rule[1].right = KR_RIGHT_NONE;
    ck_assert(kr_face_reload(rig.face, &config, error, sizeof error));
    ck_assert(face_rig_is_closed(&rig, reader, 1000));
    /* OWN_ROLE, OWN_CONTROL, CONTROL_HELD */
    ck_assert_str_eq(face_rig_ask(&rig, plc, "0001 0000 0006 01 04 0045 0003"),
                     "00 01 00 00 00 09 01 04 06 00 00 00 00 00 00");
    config.n_rules = KR_FACE_RULES_MAX + 1;
    ck_assert(!kr_face_reload(rig.face, &config, error, sizeof error));
    ck_assert_str_eq(error, "address rules: 65 is not possible; 0 to 64");
    close(plc);
    close(reader);
}
END_TEST

START_TEST(a_group_keeps_control_over_a_reload_under_its_name_and_loses_it_without)
{
    struct kr_face_config config = face_rig_defaults();
    char error[200] = "";
    config.n_groups = 2;
    config.group[0] = (struct kr_face_group){"first", 1, {prefix_of("127.0.0.5")}};
    config.group[1] = (struct kr_face_group){"second", 1, {prefix_of("127.0.0.2")}};
    face_rig_start(&rig, &config);
    int plc = face_rig_connect(&rig, "127.0.0.2");
    ck_assert_str_eq(face_rig_ask(&rig, plc, "0001 0000 0006 01 06 0010 0001"), "00 01 00 00 00 06 01 06 00 10 00 01");
    config.group[0] = config.group[1]; /* the same group under another index */
    config.n_groups = 1;
    ck_assert(kr_face_reload(rig.face, &config, error, sizeof error));
    ck_assert_str_eq(face_rig_ask(&rig, plc, "0001 0000 0006 01 04 0046 0002"),
                     "00 01 00 00 00 07 01 04 04 00 01 00 01");
    strcpy(config.group[0].name, "other");
    ck_assert(kr_face_reload(rig.face, &config, error, sizeof error));
    ck_assert_str_eq(face_rig_ask(&rig, plc, "0001 0000 0006 01 04 0046 0002"),
                     "00 01 00 00 00 07 01 04 04 00 00 00 00");
    close(plc);
    face_rig_end(&rig);
}
END_TEST

/* CONTROL_HELD, after a reload in which the rules for 127.0.0.2 and 127.0.0.5 give these rights. */
static uint16_t held_after(struct kr_face_config *config, int client, enum kr_right of_2, enum kr_right of_5)
{
    char error[200] = "";
    config->rule[0].right = of_2;
    config->rule[2].right = of_5;
    ck_assert_msg(kr_face_reload(rig.face, config, error, sizeof error), "%s", error);
    const char *answer = face_rig_ask(&rig, client, "0001 0000 0006 01 04 0047 0001");
    return (uint16_t)(answer[strlen(answer) - 1] - '0');
}

START_TEST(a_group_loses_control_at_once_when_a_reload_leaves_none_of_its_addresses_the_right)
{
    struct kr_face_config config = face_rig_defaults();
    config.n_groups = 1;
    config.group[0] = (struct kr_face_group){"both CPUs", 2, {prefix_of("127.0.0.2"), prefix_of("127.0.0.4/31")}};
    face_rig_start(&rig, &config);
    int plc = face_rig_connect(&rig, "127.0.0.2"), other = face_rig_connect(&rig, "127.0.0.1");
    ck_assert_str_eq(face_rig_ask(&rig, plc, "0001 0000 0006 01 06 0010 0001"), "00 01 00 00 00 06 01 06 00 10 00 01");
    config.rule[config.n_rules++] = (struct kr_face_rule){prefix_of("127.0.0.4/31"), KR_RIGHT_READ, 0};
    ck_assert_uint_eq(held_after(&config, other, KR_RIGHT_READ, KR_RIGHT_CONTROL), KR_CONTROL_HELD);
    ck_assert_uint_eq(held_after(&config, other, KR_RIGHT_CONTROL, KR_RIGHT_READ), KR_CONTROL_HELD);
    ck_assert_uint_eq(held_after(&config, other, KR_RIGHT_READ, KR_RIGHT_NONE), KR_CONTROL_FREE);
    close(plc), close(other);
    face_rig_end(&rig);
}
END_TEST

START_TEST(a_reload_frees_the_station_whose_right_its_holder_lost_and_no_other)
{
    struct kr_face_config config = face_rig_defaults();
    char error[200] = "";
    face_rig_start(&rig, &config);
    int plc = face_rig_connect(&rig, "127.0.0.2");
    for (int unit = 1; unit <= 2; unit++) {
        char request[48], answer[64];
        snprintf(request, sizeof request, "0001 0000 0006 %02d 06 0010 0001", unit);
        snprintf(answer, sizeof answer, "00 01 00 00 00 06 %02d 06 00 10 00 01", unit);
        ck_assert_str_eq(face_rig_ask(&rig, plc, request), answer);
    }
    config.rule[0].station_number = 2;
    ck_assert_msg(kr_face_reload(rig.face, &config, error, sizeof error), "%s", error);
    ck_assert_str_eq(face_rig_ask(&rig, plc, "0001 0000 0006 02 04 0046 0002"),
                     "00 01 00 00 00 07 02 04 04 00 01 00 01");
    config.rule[config.n_rules++] = (struct kr_face_rule){prefix_of("127.0.0.2"), KR_RIGHT_READ, 1};
    ck_assert_msg(kr_face_reload(rig.face, &config, error, sizeof error), "%s", error);
    ck_assert_str_eq(face_rig_ask(&rig, plc, "0001 0000 0006 01 04 0045 0003"),
                     "00 01 00 00 00 09 01 04 06 00 00 00 00 00 00");
    ck_assert_str_eq(face_rig_ask(&rig, plc, "0001 0000 0006 02 04 0046 0002"),
                     "00 01 00 00 00 07 02 04 04 00 01 00 01");
    close(plc);
    face_rig_end(&rig);
}
END_TEST

START_TEST(closing_in_the_middle_of_everything_frees_everything)
{
    static uint8_t requests[12 * 4000];
    int fd[5];
    for (uint16_t i = 0; i < 4000; i++)
        face_rig_put_read(requests + 12 * i, i, 0, 125);
    for (int i = 0; i < 5; i++) {
        fd[i] = face_rig_connect(&rig, "127.0.0.1");
        ck_assert_int_gt(send(fd[i], requests, sizeof requests - (size_t)i, MSG_DONTWAIT), 0);
    }
    face_rig_cycle(&rig);
    face_rig_end(&rig);
    for (int i = 0; i < 5; i++)
        close(fd[i]);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("face_limits");
    TCase *open = suite_case(suite, "on an open face");
    tcase_add_checked_fixture(open, open_rig, close_rig);
    tcase_add_test(open, every_connection_sends_at_once_and_notices_a_dead_peer);
    tcase_add_test(open, an_address_without_any_right_is_turned_away);
    tcase_add_test(open, a_reload_changes_the_rights_of_standing_connections_at_once);

    TCase *own = suite_case(suite, "on a face of its own");
    tcase_add_test(own, half_a_frame_is_given_its_time_and_no_more_even_if_it_dribbles);
    tcase_add_test(own, connections_that_expire_together_are_closed_a_few_at_a_time);
    tcase_add_test(own, a_silent_connection_is_closed_after_the_idle_time_and_a_polling_one_is_not);
    tcase_add_test(own, an_address_gets_no_more_connections_than_its_limit_while_all_are_in_use);
    tcase_add_test(own, an_address_at_its_limit_loses_its_own_silent_connection_for_a_new_one);
    tcase_add_test(own, when_all_places_are_taken_the_client_in_control_still_gets_in_and_is_never_put_out);
    tcase_add_test(own, places_are_kept_for_those_who_may_command_however_many_readers_come);
    tcase_add_test(own, who_may_command_displaces_a_busy_reader_and_never_the_other_way_round);
    tcase_add_test(own, an_ipv6_network_of_64_bits_and_an_ipv4_address_count_as_one_host);
    tcase_add_test(own, a_client_over_its_rate_waits_and_the_others_do_not);
    tcase_add_test(own, thousands_of_connects_and_disconnects_leave_nothing_behind);
    tcase_add_test(own, a_port_that_is_taken_is_an_error_that_names_it_and_nothing_is_left);
    tcase_add_test(own, a_setting_out_of_range_is_an_error_that_names_value_and_limit);
    tcase_add_test(own, more_connections_than_the_process_may_have_files_are_an_error_at_once);
    tcase_add_test(own, a_group_keeps_control_over_a_reload_under_its_name_and_loses_it_without);
    tcase_add_test(own, a_group_loses_control_at_once_when_a_reload_leaves_none_of_its_addresses_the_right);
    tcase_add_test(own, a_reload_frees_the_station_whose_right_its_holder_lost_and_no_other);
    tcase_add_test(own, an_ipv6_client_is_served_and_has_the_rights_of_its_address);
    tcase_add_test(own, an_ipv4_client_of_a_dual_stack_listener_has_the_rights_of_its_ipv4_address);

    TCase *closing = suite_case(suite, "closing");
    tcase_add_checked_fixture(closing, open_rig, NULL);
    tcase_add_test(closing, closing_in_the_middle_of_everything_frees_everything);
    return suite;
}
