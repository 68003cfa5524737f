/* The face over sockets: frames, pipelines, limits, and whose turn it is. */
#include <arpa/inet.h>
#include <netinet/tcp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <unistd.h>

#include "face_rig.h"
#include "server.h"
#include "wire.h"

#define ASK_PROOF    "0001 0000 0006 01 04 0000 0002" /* the word order constant: 0 before the first cycle */
#define ANSWER_PROOF "00 01 00 00 00 07 01 04 04 00 00 00 00"

static struct rig rig;

static void open_rig(void)
{
    struct kr_face_config config = rig_config();
    rig_open(&rig, &config);
}

static void close_rig(void)
{
    rig_close(&rig);
}

/* ---- frames -------------------------------------------------------------------------------------------- */

START_TEST(a_request_is_answered)
{
    int fd = rig_connect(&rig, "127.0.0.1");
    ck_assert_str_eq(rig_ask(&rig, fd, ASK_PROOF), ANSWER_PROOF);
    close(fd);
}
END_TEST

/* MSG 3.1.2: a receiver must reassemble by the length field, however the stream was cut. */
START_TEST(a_request_in_two_pieces_is_answered_wherever_it_is_cut)
{
    uint8_t request[12];
    size_t n = hex_read(ASK_PROOF, request, sizeof request);
    int fd = rig_connect(&rig, "127.0.0.1");
    rig_send(&rig, fd, request, (size_t)_i);
    ck_assert_str_eq(rig_frame(&rig, fd, 5), "nothing");
    rig_send(&rig, fd, request + _i, n - (size_t)_i);
    ck_assert_str_eq(rig_frame(&rig, fd, 5000), ANSWER_PROOF);
    close(fd);
}
END_TEST

static size_t put_request(uint8_t *at, uint16_t transaction, uint16_t first, uint16_t n)
{
    const uint8_t request[12] = {
        [5] = 6, [6] = 1, [7] = 4, [8] = (uint8_t)(first >> 8), [9] = (uint8_t)first, [11] = (uint8_t)n};
    memcpy(at, request, sizeof request);
    put16(at, transaction);
    return sizeof request;
}

START_TEST(pipelined_requests_are_answered_in_order_each_under_its_transaction)
{
    enum { N = 1000 };
    static uint8_t requests[12 * N], answers[13 * N];
    int fd = rig_connect(&rig, "127.0.0.1");
    for (uint16_t i = 0; i < N; i++)
        put_request(requests + 12 * i, i, 0, 2);
    rig_send(&rig, fd, requests, sizeof requests);
    ck_assert_uint_eq(rig_receive(&rig, fd, answers, sizeof answers), sizeof answers);
    for (uint16_t i = 0; i < N; i++)
        ck_assert_uint_eq(get16(answers + 13 * i), i);
    ck_assert_uint_eq(kr_face_counters(rig.face)->requests, N);
    close(fd);
}
END_TEST

/* MSG 4.4.2.2, figure 16: another protocol identifier: discarded, no answer. The next request is answered. */
START_TEST(a_frame_of_another_protocol_is_discarded_and_the_next_is_answered)
{
    int fd = rig_connect(&rig, "127.0.0.1");
    rig_send_hex(&rig, fd, "0009 0001 0006 01 04 0000 0002");
    ck_assert_str_eq(rig_frame(&rig, fd, 20), "nothing");
    ck_assert_str_eq(rig_ask(&rig, fd, ASK_PROOF), ANSWER_PROOF);
    ck_assert_uint_eq(kr_face_counters(rig.face)->discarded, 1);
    close(fd);
}
END_TEST

START_TEST(a_length_that_no_frame_can_have_closes_the_connection_and_no_other)
{
    static const char *const lengths[] = {"0000", "0001", "00FF", "0100", "FFFF"};
    char request[64];
    int other = rig_connect(&rig, "127.0.0.1"), fd = rig_connect(&rig, "127.0.0.1");
    snprintf(request, sizeof request, "0001 0000 %s 01 04 0000 0002", lengths[_i]);
    rig_send_hex(&rig, fd, ASK_PROOF);
    rig_send_hex(&rig, fd, request);
    ck_assert_str_eq(rig_frame(&rig, fd, 5000), ANSWER_PROOF);
    ck_assert_str_eq(rig_frame(&rig, fd, 5000), "closed");
    ck_assert_str_eq(rig_ask(&rig, other, ASK_PROOF), ANSWER_PROOF);
    ck_assert_uint_eq(kr_face_counters(rig.face)->broken, 1);
    close(fd);
    close(other);
}
END_TEST

/* Bytes behind what the function code implies belong to the frame, as its length says: they make it
 * malformed, and are never taken for a request of their own. */
START_TEST(a_request_hidden_behind_another_in_one_frame_is_not_carried_out)
{
    int fd = rig_connect(&rig, "127.0.0.1");
    ck_assert_str_eq(rig_ask(&rig, fd, "0001 0000 0006 01 06 0010 0001"),
                     "00 01 00 00 00 06 01 06 00 10 00 01");
    ck_assert_str_eq(rig_ask(&rig, fd, "0002 0000 0012 01 04 0000 0002 0003 0000 0006 01 06 0001 0007"),
                     "00 02 00 00 00 03 01 84 03");
    ck_assert_str_eq(rig_ask(&rig, fd, "0004 0000 0006 01 03 0001 0001"), "00 04 00 00 00 05 01 03 02 00 00");
    close(fd);
}
END_TEST

START_TEST(what_came_before_the_clients_end_is_answered_before_the_connection_closes)
{
    enum { N = 300 };
    static uint8_t requests[12 * N], answers[13 * N];
    int fd = rig_connect(&rig, "127.0.0.1");
    for (uint16_t i = 0; i < N; i++)
        put_request(requests + 12 * i, i, 0, 2);
    rig_send(&rig, fd, requests, sizeof requests);
    ck_assert_int_eq(shutdown(fd, SHUT_WR), 0);
    ck_assert_uint_eq(rig_receive(&rig, fd, answers, sizeof answers), sizeof answers);
    ck_assert(rig_is_closed(&rig, fd, 1000));
    close(fd);
}
END_TEST

/* The end of the requests is seen while their answers still wait for the client to read. */
START_TEST(a_client_that_ends_and_reads_late_still_gets_every_answer)
{
    enum { MOST = 1000 };
    static uint8_t requests[12 * MOST], answers[259 * MOST];
    uint16_t n =
        (uint16_t)(MOST - 16 * _i); /* so that in some of the runs the last answers are the ones that wait */
    size_t n_bytes = 259u * n;
    int fd = rig_connect(&rig, "127.0.0.1");
    for (uint16_t i = 0; i < n; i++)
        put_request(requests + 12 * i, i, 0, 125);
    ck_assert_int_eq(send(fd, requests, 12u * n, 0), 12 * n);
    ck_assert_int_eq(shutdown(fd, SHUT_WR), 0);
    size_t got = 0;
    for (int turn = 0; turn < 200000 && got < n_bytes; turn++) {
        rig_turn(&rig);
        ssize_t more = turn % 50 == 49 ? recv(fd, answers + got, 20000, MSG_DONTWAIT) : -1;
        got += more > 0 ? (size_t)more : 0;
    }
    ck_assert_uint_eq(got, n_bytes);
    for (uint16_t i = 0; i < n; i++)
        ck_assert_uint_eq(get16(answers + 259 * i), i);
    ck_assert(rig_is_closed(&rig, fd, 1000));
    close(fd);
}
END_TEST

/* A full buffer and a due cycle together: there is no room to read into, which is not the client's end. */
START_TEST(a_flood_is_answered_whole_though_cycles_come_between)
{
    enum { N = 1500 };
    static uint8_t requests[12 * N], answers[13 * N];
    int fd = rig_connect(&rig, "127.0.0.1");
    for (uint16_t i = 0; i < N; i++)
        put_request(requests + 12 * i, i, 0, 2);
    rig_send(&rig, fd, requests, sizeof requests);
    size_t got = 0;
    for (int turn = 0; turn < 4000 && got < sizeof answers; turn++) {
        rig.cycle_due = turn % 3 == 1;
        rig_turn(&rig);
        ssize_t more = recv(fd, answers + got, sizeof answers - got, MSG_DONTWAIT);
        got += more > 0 ? (size_t)more : 0;
    }
    rig.cycle_due = false;
    ck_assert_uint_eq(got, sizeof answers);
    close(fd);
}
END_TEST

START_TEST(more_than_65536_requests_on_one_connection_are_answered)
{
    enum { ROUND = 256, ROUNDS = 260 };
    static uint8_t requests[12 * ROUND], answers[13 * ROUND];
    int fd = rig_connect(&rig, "127.0.0.1");
    for (unsigned round = 0; round < ROUNDS; round++) {
        for (unsigned i = 0; i < ROUND; i++)
            put_request(requests + 12 * i, (uint16_t)(round * ROUND + i), 0, 2);
        rig_send(&rig, fd, requests, sizeof requests);
        ck_assert_uint_eq(rig_receive(&rig, fd, answers, sizeof answers), sizeof answers);
        ck_assert_uint_eq(get16(answers + 13 * (ROUND - 1)), (uint16_t)(round * ROUND + ROUND - 1));
    }
    close(fd);
}
END_TEST

/* ---- turns --------------------------------------------------------------------------------------------- */

START_TEST(while_a_cycle_is_due_nothing_is_answered_and_afterwards_everything)
{
    int fd = rig_connect(&rig, "127.0.0.1");
    rig.cycle_due = true;
    rig_send_hex(&rig, fd, ASK_PROOF);
    ck_assert_str_eq(rig_frame(&rig, fd, 20), "nothing");
    ck_assert_uint_eq(kr_face_counters(rig.face)->requests, 0);
    rig.cycle_due = false;
    ck_assert_str_eq(rig_frame(&rig, fd, 5000), ANSWER_PROOF);
    close(fd);
}
END_TEST

START_TEST(a_connection_that_comes_while_a_cycle_is_due_is_accepted_afterwards)
{
    int first = rig_connect(&rig, "127.0.0.1");
    ck_assert_str_eq(rig_ask(&rig, first, ASK_PROOF), ANSWER_PROOF);
    rig.cycle_due = true;
    int fd = rig_connect(&rig, "127.0.0.1");
    rig_run_ms(&rig, 5);
    ck_assert_uint_eq(kr_face_counters(rig.face)->accepted, 1);
    rig.cycle_due = false;
    ck_assert_str_eq(rig_ask(&rig, fd, ASK_PROOF), ANSWER_PROOF);
    close(fd);
    close(first);
}
END_TEST

/* A cycle cuts every turn short after a third of the clients. Those at the end of the poll must not wait
 * for ever. */
START_TEST(clients_that_a_cycle_put_off_come_first_in_the_next_turn)
{
    enum { N = 15, TURNS = 300 };
    int fd[N];
    unsigned answers[N] = {0}, least = TURNS, most = 0;
    uint8_t request[12], answer[13];
    put_request(request, 1, 0, 2);
    for (int i = 0; i < N; i++) {
        fd[i] = rig_connect(&rig, "127.0.0.1");
        rig_send(&rig, fd[i], request, sizeof request);
    }
    rig.due_after = 8;
    for (int turn = 0; turn < TURNS; turn++) {
        rig_turn(&rig);
        for (int i = 0; i < N; i++) {
            if (recv(fd[i], answer, sizeof answer, MSG_DONTWAIT) != sizeof answer)
                continue;
            answers[i]++;
            rig_send(&rig, fd[i], request, sizeof request);
        }
    }
    for (int i = 0; i < N; i++) {
        least = answers[i] < least ? answers[i] : least;
        most = answers[i] > most ? answers[i] : most;
        close(fd[i]);
    }
    ck_assert_uint_gt(most, 20);
    ck_assert_uint_lt(most, TURNS / 2);
    ck_assert_msg(2 * least >= most, "one client got %u answers, another %u", least, most);
    rig.due_after = 0;
}
END_TEST

/* The pipeline of one client is answered in shares: between two of them, the other client gets its answer. */
START_TEST(a_deep_pipeline_does_not_keep_another_client_waiting)
{
    enum { N = 4000 };
    static uint8_t requests[12 * N];
    int greedy = rig_connect(&rig, "127.0.0.1"), modest = rig_connect(&rig, "127.0.0.1");
    for (uint16_t i = 0; i < N; i++)
        put_request(requests + 12 * i, i, 0, 2);
    ssize_t sent = send(greedy, requests, sizeof requests, MSG_DONTWAIT);
    ck_assert_int_gt(sent, 12 * 1000);
    ck_assert_str_eq(rig_ask(&rig, modest, ASK_PROOF), ANSWER_PROOF);
    ck_assert_uint_lt(kr_face_counters(rig.face)->requests, 1000);
    close(greedy);
    close(modest);
}
END_TEST

START_TEST(a_client_that_never_reads_is_closed_and_stops_nobody)
{
    struct kr_face_config config = rig_config();
    config.limits.partial_ms = 100;
    rig_open(&rig, &config);
    static uint8_t requests[12 * 1000];
    int deaf = rig_connect(&rig, "127.0.0.1"), other = rig_connect(&rig, "127.0.0.1");
    for (uint16_t i = 0; i < 1000; i++)
        put_request(requests + 12 * i, i, 0, 125);
    uint64_t end = uv_hrtime() + 5000000000u;
    while (kr_face_counters(rig.face)->expired == 0 && uv_hrtime() < end) {
        if (send(deaf, requests, sizeof requests, MSG_DONTWAIT | MSG_NOSIGNAL) < 0)
            rig_turn(&rig);
        ck_assert_str_eq(rig_ask(&rig, other, ASK_PROOF), ANSWER_PROOF);
    }
    ck_assert_uint_eq(kr_face_counters(rig.face)->expired, 1);
    close(deaf);
    close(other);
    rig_close(&rig);
}
END_TEST

/* libuv writes without MSG_NOSIGNAL; an end and then a reset make the next write raise SIGPIPE. */
START_TEST(a_client_that_resets_its_connection_does_not_end_the_process)
{
    static uint8_t requests[12 * 2000];
    for (uint16_t i = 0; i < 2000; i++)
        put_request(requests + 12 * i, i, 0, 125);
    for (int i = 0; i < 20; i++) {
        int fd = rig_connect(&rig, "127.0.0.1");
        struct linger hard = {.l_onoff = 1};
        ck_assert_int_eq(setsockopt(fd, SOL_SOCKET, SO_LINGER, &hard, sizeof hard), 0);
        ck_assert_int_gt(send(fd, requests, sizeof requests, MSG_DONTWAIT), 0);
        ck_assert_int_eq(shutdown(fd, SHUT_WR), 0);
        for (int turns = 0; turns < i; turns++)
            rig_turn(&rig);
        close(fd);
        for (int turns = 0; turns < 20; turns++)
            rig_turn(&rig);
    }
    int fd = rig_connect(&rig, "127.0.0.1");
    ck_assert_str_eq(rig_ask(&rig, fd, ASK_PROOF), ANSWER_PROOF);
    close(fd);
}
END_TEST

START_TEST(a_slow_reader_gets_every_answer_whole_and_in_order)
{
    enum { N = 60000 };
    int fd = rig_connect(&rig, "127.0.0.1");
    static uint8_t requests[12 * N], answer[259];
    for (unsigned i = 0; i < N; i++)
        put_request(requests + 12 * (size_t)i, (uint16_t)i, 0, 125);
    size_t sent = 0, n = 0;
    while (n < N) {
        ssize_t more =
            sent < sizeof requests ? send(fd, requests + sent, sizeof requests - sent, MSG_DONTWAIT) : 0;
        sent += more > 0 ? (size_t)more : 0;
        if (more > 0) { /* fill up first, so that the face has to wait for this reader */
            rig_turn(&rig);
            continue;
        }
        ck_assert_uint_eq(rig_receive(&rig, fd, answer, sizeof answer), sizeof answer);
        ck_assert_uint_eq(get16(answer), (uint16_t)n);
        ck_assert_uint_eq(get16(answer + 4), 253);
        n++;
    }
    close(fd);
}
END_TEST

/* ---- limits -------------------------------------------------------------------------------------------- */

START_TEST(half_a_frame_is_given_its_time_and_no_more_even_if_it_dribbles)
{
    struct kr_face_config config = rig_config();
    config.limits.partial_ms = 150;
    rig_open(&rig, &config);
    int fd = rig_connect(&rig, "127.0.0.1");
    uint8_t request[12];
    hex_read(ASK_PROOF, request, sizeof request);
    uint64_t start = uv_hrtime();
    unsigned i = 0;
    while (!rig_is_closed(&rig, fd, 40) && i < 11)
        rig_send(&rig, fd, request + i++, 1);
    uint64_t took_ms = (uv_hrtime() - start) / 1000000;
    ck_assert_uint_ge(took_ms, 150);
    ck_assert_uint_lt(i, 8);
    ck_assert_uint_eq(kr_face_counters(rig.face)->expired, 1);
    close(fd);
    rig_close(&rig);
}
END_TEST

/* The kernel takes its time to close a connection that is full; a cycle must not wait for a hundred of them. */
START_TEST(connections_that_expire_together_are_closed_a_few_at_a_time)
{
    enum { N = 30 };
    struct kr_face_config config = rig_config();
    config.limits.partial_ms = 50;
    config.limits.connections_per_address = N;
    rig_open(&rig, &config);
    int fd[N];
    for (int i = 0; i < N; i++) {
        fd[i] = rig_connect(&rig, "127.0.0.1");
        rig_send_hex(&rig, fd[i], "0001 00");
    }
    uint64_t expired = 0, end = uv_hrtime() + 5000000000u;
    while (expired < N && uv_hrtime() < end) {
        rig_turn(&rig);
        ck_assert_uint_le(kr_face_counters(rig.face)->expired - expired, 4);
        expired = kr_face_counters(rig.face)->expired;
    }
    ck_assert_uint_eq(expired, N);
    for (int i = 0; i < N; i++)
        close(fd[i]);
    rig_close(&rig);
}
END_TEST

START_TEST(a_silent_connection_is_closed_after_the_idle_time_and_a_polling_one_is_not)
{
    struct kr_face_config config = rig_config();
    config.limits.idle_ms = 150;
    rig_open(&rig, &config);
    int silent = rig_connect(&rig, "127.0.0.1"), polling = rig_connect(&rig, "127.0.0.1");
    for (int i = 0; i < 8; i++) {
        rig_run_ms(&rig, 30);
        ck_assert_str_eq(rig_ask(&rig, polling, ASK_PROOF), ANSWER_PROOF);
    }
    ck_assert(rig_is_closed(&rig, silent, 100));
    close(silent);
    close(polling);
    rig_close(&rig);
}
END_TEST

START_TEST(an_address_gets_no_more_connections_than_its_limit_while_all_are_in_use)
{
    struct kr_face_config config = rig_config();
    config.limits.connections_per_address = 2;
    rig_open(&rig, &config);
    int a = rig_connect(&rig, "127.0.0.1"), b = rig_connect(&rig, "127.0.0.1"),
        c = rig_connect(&rig, "127.0.0.1");
    int other = rig_connect(&rig, "127.0.0.2");
    ck_assert(rig_is_closed(&rig, c, 1000));
    ck_assert_str_eq(rig_ask(&rig, a, ASK_PROOF), ANSWER_PROOF);
    ck_assert_str_eq(rig_ask(&rig, b, ASK_PROOF), ANSWER_PROOF);
    ck_assert_str_eq(rig_ask(&rig, other, ASK_PROOF), ANSWER_PROOF);
    ck_assert_uint_eq(kr_face_counters(rig.face)->refused, 1);
    close(a), close(b), close(c), close(other);
    rig_close(&rig);
}
END_TEST

/* A PLC that was switched off and on again finds its old connections still standing. */
START_TEST(an_address_at_its_limit_loses_its_own_silent_connection_for_a_new_one)
{
    struct kr_face_config config = rig_config();
    config.limits.connections_per_address = 2;
    rig_open(&rig, &config);
    int ghost = rig_connect(&rig, "127.0.0.2"), b = rig_connect(&rig, "127.0.0.2");
    rig_run_ms(&rig, 1050);
    ck_assert_str_eq(rig_ask(&rig, b, ASK_PROOF), ANSWER_PROOF);
    int c = rig_connect(&rig, "127.0.0.2");
    ck_assert_str_eq(rig_ask(&rig, c, ASK_PROOF), ANSWER_PROOF);
    ck_assert(rig_is_closed(&rig, ghost, 1000));
    ck_assert_str_eq(rig_ask(&rig, b, ASK_PROOF), ANSWER_PROOF);
    ck_assert_uint_eq(kr_face_counters(rig.face)->evicted, 1);
    close(ghost), close(b), close(c);
    rig_close(&rig);
}
END_TEST

START_TEST(when_all_places_are_taken_the_client_in_control_still_gets_in_and_is_never_put_out)
{
    struct kr_face_config config = rig_config();
    config.limits.connections = 3;
    rig_open(&rig, &config);
    int plc = rig_connect(&rig, "127.0.0.2");
    ck_assert_str_eq(rig_ask(&rig, plc, "0001 0000 0006 01 06 0010 0001"),
                     "00 01 00 00 00 06 01 06 00 10 00 01");
    rig_run_ms(&rig, 1050); /* the PLC is the one silent longest from here on */
    int a = rig_connect(&rig, "127.0.0.1"), b = rig_connect(&rig, "127.0.0.1");
    ck_assert_str_eq(rig_ask(&rig, a, ASK_PROOF), ANSWER_PROOF);
    ck_assert_str_eq(rig_ask(&rig, b, ASK_PROOF), ANSWER_PROOF);
    int reader = rig_connect(&rig, "127.0.0.3");
    ck_assert(rig_is_closed(&rig, reader, 1000)); /* a and b are busy, and the PLC has control */
    int second = rig_connect(&rig, "127.0.0.2");
    ck_assert_str_eq(rig_ask(&rig, second, ASK_PROOF), ANSWER_PROOF);
    ck_assert_str_eq(rig_ask(&rig, plc, ASK_PROOF), ANSWER_PROOF);
    ck_assert(rig_is_closed(&rig, a, 1000));
    ck_assert_str_eq(rig_ask(&rig, b, ASK_PROOF), ANSWER_PROOF);
    close(plc), close(a), close(b), close(reader), close(second);
    rig_close(&rig);
}
END_TEST

START_TEST(an_address_without_any_right_is_turned_away)
{
    int fd = rig_connect(&rig, "127.0.0.9");
    ck_assert(rig_is_closed(&rig, fd, 1000));
    ck_assert_uint_eq(kr_face_counters(rig.face)->refused, 1);
    close(fd);
}
END_TEST

START_TEST(a_client_over_its_rate_waits_and_the_others_do_not)
{
    struct kr_face_config config = rig_config();
    config.limits.requests_per_s = 200; /* 20 at once */
    rig_open(&rig, &config);
    enum { N = 60 };
    static uint8_t requests[12 * N], answers[13 * N];
    int greedy = rig_connect(&rig, "127.0.0.1"), modest = rig_connect(&rig, "127.0.0.1");
    for (uint16_t i = 0; i < N; i++)
        put_request(requests + 12 * i, i, 0, 2);
    uint64_t start = uv_hrtime();
    rig_send(&rig, greedy, requests, sizeof requests);
    ck_assert_str_eq(rig_ask(&rig, modest, ASK_PROOF), ANSWER_PROOF);
    ck_assert_uint_lt((uv_hrtime() - start) / 1000000, 100);
    ck_assert_uint_eq(rig_receive(&rig, greedy, answers, sizeof answers), sizeof answers);
    uint64_t took_ms = (uv_hrtime() - start) / 1000000;
    ck_assert_uint_ge(took_ms, 190); /* (60 - 20) / 200 a second, less a tick */
    close(greedy);
    close(modest);
    rig_close(&rig);
}
END_TEST

/* More connections at once than are accepted in a turn, twice as many as there are places, thousands of
 * times in all. */
START_TEST(thousands_of_connects_and_disconnects_leave_nothing_behind)
{
    struct kr_face_config config = rig_config();
    config.limits.connections = 20;
    config.limits.connections_per_address = 20;
    rig_open(&rig, &config);
    for (int round = 0; round < 100; round++) {
        int fd[40];
        for (int i = 0; i < 40; i++)
            fd[i] = rig_connect(&rig, "127.0.0.1");
        for (int i = 0; i < 40; i++)
            close(fd[i]);
        rig_run_ms(&rig, 2);
    }
    rig_run_ms(&rig, 10);
    ck_assert_uint_eq(kr_face_counters(rig.face)->connections, 0);
    ck_assert_uint_le(kr_face_counters(rig.face)->connections_most, 20);
    ck_assert_uint_eq(kr_face_counters(rig.face)->accepted + kr_face_counters(rig.face)->refused, 4000);
    int fd = rig_connect(&rig, "127.0.0.1");
    ck_assert_str_eq(rig_ask(&rig, fd, ASK_PROOF), ANSWER_PROOF);
    close(fd);
    rig_close(&rig);
}
END_TEST

/* ---- opening, reloading -------------------------------------------------------------------------------- */

START_TEST(a_port_that_is_taken_is_an_error_that_names_it_and_nothing_is_left)
{
    struct kr_face_config config = rig_config();
    char error[200] = "", want[64];
    rig_open(&rig, &config);
    config.n_listen = 2;
    config.listen[1] = config.listen[0];
    config.listen[1].port = kr_face_port(rig.face);
    ck_assert_ptr_null(kr_face_open(&rig.loop, &config, NULL, error, sizeof error));
    snprintf(want, sizeof want, "listen on 127.0.0.1 port %u: address already in use", config.listen[1].port);
    ck_assert_str_eq(error, want);
    rig_close(&rig);
}
END_TEST

START_TEST(a_setting_out_of_range_is_an_error_that_names_value_and_limit)
{
    struct kr_face_config config = rig_config();
    char error[200] = "";
    uv_loop_t loop;
    uv_loop_init(&loop);
    config.station[1].unit_id = 255;
    ck_assert_ptr_null(kr_face_open(&loop, &config, NULL, error, sizeof error));
    ck_assert_str_eq(error, "unit identifier: 255 is not possible; 1 to 254");
    config.station[1].unit_id = 1;
    ck_assert_ptr_null(kr_face_open(&loop, &config, NULL, error, sizeof error));
    ck_assert_str_eq(error, "unit identifier: 1 is used twice");
    config = rig_config();
    config.limits.connections = 5000;
    ck_assert_ptr_null(kr_face_open(&loop, &config, NULL, error, sizeof error));
    ck_assert_str_eq(error, "connections: 5000 is not possible; 1 to 4096");
    config = rig_config();
    memset(config.identity.vendor_name, 'x', sizeof config.identity.vendor_name);
    ck_assert_ptr_null(kr_face_open(&loop, &config, NULL, error, sizeof error));
    ck_assert_str_eq(error, "vendor name: longer than 120 characters");
    config = rig_config();
    strcpy(config.listen[0].address, "localhost");
    ck_assert_ptr_null(kr_face_open(&loop, &config, NULL, error, sizeof error));
    ck_assert_str_eq(error, "listen address: \"localhost\" is neither an IPv4 nor an IPv6 address");
    ck_assert_int_eq(uv_loop_close(&loop), 0);
}
END_TEST

START_TEST(more_connections_than_the_process_may_have_files_are_an_error_at_once)
{
    struct kr_face_config config = rig_config();
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
    int fd = rig_connect(&rig, "127.0.0.1");
    ck_assert_str_eq(rig_ask(&rig, fd, ASK_PROOF), ANSWER_PROOF);
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
    struct kr_face_config config = rig_config();
    if (no_ipv6())
        return;
    strcpy(config.listen[0].address, "::1");
    rig_open(&rig, &config);
    int fd = socket(AF_INET6, SOCK_STREAM, 0);
    struct sockaddr_in6 peer = {.sin6_family = AF_INET6,
                                .sin6_addr = IN6ADDR_LOOPBACK_INIT,
                                .sin6_port = htons(kr_face_port(rig.face))};
    ck_assert_int_eq(connect(fd, (struct sockaddr *)&peer, sizeof peer), 0);
    ck_assert_str_eq(rig_ask(&rig, fd, "0001 0000 0006 01 04 0045 0001"), "00 01 00 00 00 05 01 04 02 00 02");
    ck_assert_str_eq(rig_ask(&rig, fd, "0002 0000 0006 01 06 0010 0001"),
                     "00 02 00 00 00 06 01 06 00 10 00 01");
    ck_assert_msg(strncmp(rig.log[0], "station north: ::1 port ", 24) == 0, "%s", rig.log[0]);
    close(fd);
    rig_close(&rig);
}
END_TEST

START_TEST(an_ipv4_client_of_a_dual_stack_listener_has_the_rights_of_its_ipv4_address)
{
    struct kr_face_config config = rig_config();
    if (no_ipv6())
        return;
    strcpy(config.listen[0].address, "::");
    rig_open(&rig, &config);
    int fd = rig_connect(&rig, "127.0.0.3");
    ck_assert_str_eq(rig_ask(&rig, fd, "0001 0000 0006 01 04 0045 0001"), "00 01 00 00 00 05 01 04 02 00 00");
    close(fd);
    fd = rig_connect(&rig, "127.0.0.2");
    ck_assert_str_eq(rig_ask(&rig, fd, "0001 0000 0006 01 04 0045 0001"), "00 01 00 00 00 05 01 04 02 00 01");
    close(fd);
    rig_close(&rig);
}
END_TEST

START_TEST(a_reload_changes_the_rights_of_standing_connections_at_once)
{
    struct kr_face_config config = rig_config();
    char error[200] = "";
    int plc = rig_connect(&rig, "127.0.0.2"), reader = rig_connect(&rig, "127.0.0.3");
    ck_assert_str_eq(rig_ask(&rig, plc, "0001 0000 0006 01 06 0010 0001"),
                     "00 01 00 00 00 06 01 06 00 10 00 01");
    config.rule[0].right = KR_RIGHT_READ;
    config.rule[1].right = KR_RIGHT_NONE;
    ck_assert(kr_face_reload(rig.face, &config, error, sizeof error));
    ck_assert(rig_is_closed(&rig, reader, 1000));
    /* OWN_ROLE, OWN_CONTROL, CONTROL_HELD */
    ck_assert_str_eq(rig_ask(&rig, plc, "0001 0000 0006 01 04 0045 0003"),
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
    struct kr_face_config config = rig_config();
    char error[200] = "";
    config.n_groups = 2;
    config.group[0] = (struct kr_face_group){"first", 1, {prefix_of("127.0.0.5")}};
    config.group[1] = (struct kr_face_group){"second", 1, {prefix_of("127.0.0.2")}};
    rig_open(&rig, &config);
    int plc = rig_connect(&rig, "127.0.0.2");
    ck_assert_str_eq(rig_ask(&rig, plc, "0001 0000 0006 01 06 0010 0001"),
                     "00 01 00 00 00 06 01 06 00 10 00 01");
    config.group[0] = config.group[1]; /* the same group under another index */
    config.n_groups = 1;
    ck_assert(kr_face_reload(rig.face, &config, error, sizeof error));
    ck_assert_str_eq(rig_ask(&rig, plc, "0001 0000 0006 01 04 0046 0002"),
                     "00 01 00 00 00 07 01 04 04 00 01 00 01");
    strcpy(config.group[0].name, "other");
    ck_assert(kr_face_reload(rig.face, &config, error, sizeof error));
    ck_assert_str_eq(rig_ask(&rig, plc, "0001 0000 0006 01 04 0046 0002"),
                     "00 01 00 00 00 07 01 04 04 00 00 00 00");
    close(plc);
    rig_close(&rig);
}
END_TEST

START_TEST(closing_in_the_middle_of_everything_frees_everything)
{
    static uint8_t requests[12 * 4000];
    int fd[5];
    for (uint16_t i = 0; i < 4000; i++)
        put_request(requests + 12 * i, i, 0, 125);
    for (int i = 0; i < 5; i++) {
        fd[i] = rig_connect(&rig, "127.0.0.1");
        ck_assert_int_gt(send(fd[i], requests, sizeof requests - (size_t)i, MSG_DONTWAIT), 0);
    }
    rig_turn(&rig);
    rig_close(&rig);
    for (int i = 0; i < 5; i++)
        close(fd[i]);
}
END_TEST

static Suite *server_suite(void)
{
    Suite *suite = suite_create("face_server");
    TCase *open = tcase_create("on an open face");
    tcase_set_timeout(open, 60);
    tcase_add_checked_fixture(open, open_rig, close_rig);
    tcase_add_test(open, a_request_is_answered);
    tcase_add_loop_test(open, a_request_in_two_pieces_is_answered_wherever_it_is_cut, 1, 12);
    tcase_add_test(open, pipelined_requests_are_answered_in_order_each_under_its_transaction);
    tcase_add_test(open, a_frame_of_another_protocol_is_discarded_and_the_next_is_answered);
    tcase_add_loop_test(open, a_length_that_no_frame_can_have_closes_the_connection_and_no_other, 0, 5);
    tcase_add_test(open, a_request_hidden_behind_another_in_one_frame_is_not_carried_out);
    tcase_add_test(open, what_came_before_the_clients_end_is_answered_before_the_connection_closes);
    tcase_add_loop_test(open, a_client_that_ends_and_reads_late_still_gets_every_answer, 0, 24);
    tcase_add_test(open, a_flood_is_answered_whole_though_cycles_come_between);
    tcase_add_test(open, more_than_65536_requests_on_one_connection_are_answered);
    tcase_add_test(open, while_a_cycle_is_due_nothing_is_answered_and_afterwards_everything);
    tcase_add_test(open, a_connection_that_comes_while_a_cycle_is_due_is_accepted_afterwards);
    tcase_add_test(open, clients_that_a_cycle_put_off_come_first_in_the_next_turn);
    tcase_add_test(open, a_deep_pipeline_does_not_keep_another_client_waiting);
    tcase_add_test(open, a_client_that_resets_its_connection_does_not_end_the_process);
    tcase_add_test(open, a_slow_reader_gets_every_answer_whole_and_in_order);
    tcase_add_test(open, every_connection_sends_at_once_and_notices_a_dead_peer);
    tcase_add_test(open, an_address_without_any_right_is_turned_away);
    tcase_add_test(open, a_reload_changes_the_rights_of_standing_connections_at_once);
    suite_add_tcase(suite, open);

    TCase *own = tcase_create("on a face of its own");
    tcase_set_timeout(own, 60);
    tcase_add_test(own, a_client_that_never_reads_is_closed_and_stops_nobody);
    tcase_add_test(own, half_a_frame_is_given_its_time_and_no_more_even_if_it_dribbles);
    tcase_add_test(own, connections_that_expire_together_are_closed_a_few_at_a_time);
    tcase_add_test(own, a_silent_connection_is_closed_after_the_idle_time_and_a_polling_one_is_not);
    tcase_add_test(own, an_address_gets_no_more_connections_than_its_limit_while_all_are_in_use);
    tcase_add_test(own, an_address_at_its_limit_loses_its_own_silent_connection_for_a_new_one);
    tcase_add_test(own, when_all_places_are_taken_the_client_in_control_still_gets_in_and_is_never_put_out);
    tcase_add_test(own, a_client_over_its_rate_waits_and_the_others_do_not);
    tcase_add_test(own, thousands_of_connects_and_disconnects_leave_nothing_behind);
    tcase_add_test(own, a_port_that_is_taken_is_an_error_that_names_it_and_nothing_is_left);
    tcase_add_test(own, a_setting_out_of_range_is_an_error_that_names_value_and_limit);
    tcase_add_test(own, more_connections_than_the_process_may_have_files_are_an_error_at_once);
    tcase_add_test(own, a_group_keeps_control_over_a_reload_under_its_name_and_loses_it_without);
    tcase_add_test(own, an_ipv6_client_is_served_and_has_the_rights_of_its_address);
    tcase_add_test(own, an_ipv4_client_of_a_dual_stack_listener_has_the_rights_of_its_ipv4_address);
    suite_add_tcase(suite, own);

    TCase *closing = tcase_create("closing");
    tcase_add_checked_fixture(closing, open_rig, NULL);
    tcase_add_test(closing, closing_in_the_middle_of_everything_frees_everything);
    suite_add_tcase(suite, closing);
    return suite;
}

int main(void)
{
    SRunner *runner = srunner_create(server_suite());
    srunner_run_all(runner, CK_ENV);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
