/* Tests of the face over sockets: frames, pipelines, and the sequence in which connections are served. */
#include <arpa/inet.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "face_rig.h"
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

/* ---- frames -------------------------------------------------------------------------------------------- */

START_TEST(a_request_is_answered)
{
    int fd = face_rig_connect(&rig, "127.0.0.1");
    ck_assert_str_eq(face_rig_ask(&rig, fd, ASK_PROOF), ANSWER_PROOF);
    close(fd);
}
END_TEST

/* MSG 3.1.2: a receiver must reassemble by the length field, however the stream was cut. */
START_TEST(a_request_in_two_pieces_is_answered_wherever_it_is_cut)
{
    uint8_t request[12];
    size_t n = hex_read(ASK_PROOF, request, sizeof request);
    int fd = face_rig_connect(&rig, "127.0.0.1");
    face_rig_send(&rig, fd, request, (size_t)_i);
    ck_assert_str_eq(face_rig_frame(&rig, fd, 5), "nothing");
    face_rig_send(&rig, fd, request + _i, n - (size_t)_i);
    ck_assert_str_eq(face_rig_frame(&rig, fd, 5000), ANSWER_PROOF);
    close(fd);
}
END_TEST

START_TEST(pipelined_requests_are_answered_in_order_each_under_its_transaction)
{
    enum { N = 1000 };
    static uint8_t requests[12 * N], answers[13 * N];
    int fd = face_rig_connect(&rig, "127.0.0.1");
    for (uint16_t i = 0; i < N; i++)
        face_rig_put_read(requests + 12 * i, i, 0, 2);
    face_rig_send(&rig, fd, requests, sizeof requests);
    ck_assert_uint_eq(face_rig_receive(&rig, fd, answers, sizeof answers), sizeof answers);
    for (uint16_t i = 0; i < N; i++)
        ck_assert_uint_eq(get16(answers + 13 * i), i);
    ck_assert_uint_eq(kr_face_counters(rig.face)->requests, N);
    close(fd);
}
END_TEST

/* MSG 4.4.2.2, figure 16: another protocol identifier: discarded, no answer. The next request is answered. */
START_TEST(a_frame_of_another_protocol_is_discarded_and_the_next_is_answered)
{
    int fd = face_rig_connect(&rig, "127.0.0.1");
    face_rig_send_hex(&rig, fd, "0009 0001 0006 01 04 0000 0002");
    ck_assert_str_eq(face_rig_frame(&rig, fd, 20), "nothing");
    ck_assert_str_eq(face_rig_ask(&rig, fd, ASK_PROOF), ANSWER_PROOF);
    ck_assert_uint_eq(kr_face_counters(rig.face)->discarded, 1);
    close(fd);
}
END_TEST

START_TEST(a_length_that_no_frame_can_have_closes_the_connection_and_no_other)
{
    static const char *const lengths[] = {"0000", "0001", "00FF", "0100", "FFFF"};
    char request[64];
    int other = face_rig_connect(&rig, "127.0.0.1"), fd = face_rig_connect(&rig, "127.0.0.1");
    snprintf(request, sizeof request, "0001 0000 %s 01 04 0000 0002", lengths[_i]);
    face_rig_send_hex(&rig, fd, ASK_PROOF);
    face_rig_send_hex(&rig, fd, request);
    ck_assert_str_eq(face_rig_frame(&rig, fd, 5000), ANSWER_PROOF);
    ck_assert_str_eq(face_rig_frame(&rig, fd, 5000), "closed");
    ck_assert_str_eq(face_rig_ask(&rig, other, ASK_PROOF), ANSWER_PROOF);
    ck_assert_uint_eq(kr_face_counters(rig.face)->broken, 1);
    close(fd);
    close(other);
}
END_TEST

/* Bytes behind what the function code implies belong to the frame, as its length says: they make it
 * malformed, and are never taken for a request of their own. */
START_TEST(a_request_hidden_behind_another_in_one_frame_is_not_carried_out)
{
    int fd = face_rig_connect(&rig, "127.0.0.1");
    ck_assert_str_eq(face_rig_ask(&rig, fd, "0001 0000 0006 01 06 0010 0001"), "00 01 00 00 00 06 01 06 00 10 00 01");
    ck_assert_str_eq(face_rig_ask(&rig, fd, "0002 0000 0012 01 04 0000 0002 0003 0000 0006 01 06 0001 0007"),
                     "00 02 00 00 00 03 01 84 03");
    ck_assert_str_eq(face_rig_ask(&rig, fd, "0004 0000 0006 01 03 0001 0001"), "00 04 00 00 00 05 01 03 02 00 00");
    close(fd);
}
END_TEST

START_TEST(what_came_before_the_clients_end_is_answered_before_the_connection_closes)
{
    enum { N = 300 };
    static uint8_t requests[12 * N], answers[13 * N];
    int fd = face_rig_connect(&rig, "127.0.0.1");
    for (uint16_t i = 0; i < N; i++)
        face_rig_put_read(requests + 12 * i, i, 0, 2);
    face_rig_send(&rig, fd, requests, sizeof requests);
    ck_assert_int_eq(shutdown(fd, SHUT_WR), 0);
    ck_assert_uint_eq(face_rig_receive(&rig, fd, answers, sizeof answers), sizeof answers);
    ck_assert(face_rig_is_closed(&rig, fd, 1000));
    close(fd);
}
END_TEST

/* The end of the requests is seen while their answers still wait for the client to read. */
START_TEST(a_client_that_ends_and_reads_late_still_gets_every_answer)
{
    enum { MOST = 1000 };
    static uint8_t requests[12 * MOST], answers[259 * MOST];
    uint16_t n = (uint16_t)(MOST - 16 * _i); /* so that in some of the runs the last answers are the ones that wait */
    size_t n_bytes = 259u * n;
    int fd = face_rig_connect(&rig, "127.0.0.1");
    for (uint16_t i = 0; i < n; i++)
        face_rig_put_read(requests + 12 * i, i, 0, 125);
    ck_assert_int_eq(send(fd, requests, 12u * n, 0), 12 * n);
    ck_assert_int_eq(shutdown(fd, SHUT_WR), 0);
    size_t got = 0;
    for (int turn = 0; turn < 200000 && got < n_bytes; turn++) {
        face_rig_cycle(&rig);
        ssize_t more = turn % 50 == 49 ? recv(fd, answers + got, 20000, MSG_DONTWAIT) : -1;
        got += more > 0 ? (size_t)more : 0;
    }
    ck_assert_uint_eq(got, n_bytes);
    for (uint16_t i = 0; i < n; i++)
        ck_assert_uint_eq(get16(answers + 259 * i), i);
    ck_assert(face_rig_is_closed(&rig, fd, 1000));
    close(fd);
}
END_TEST

/* A full buffer and a due cycle together: there is no room to read into, which is not the client's end. */
START_TEST(a_flood_is_answered_whole_though_cycles_come_between)
{
    enum { N = 1500 };
    static uint8_t requests[12 * N], answers[13 * N];
    int fd = face_rig_connect(&rig, "127.0.0.1");
    for (uint16_t i = 0; i < N; i++)
        face_rig_put_read(requests + 12 * i, i, 0, 2);
    face_rig_send(&rig, fd, requests, sizeof requests);
    size_t got = 0;
    for (int turn = 0; turn < 4000 && got < sizeof answers; turn++) {
        rig.cycle_due = turn % 3 == 1;
        face_rig_cycle(&rig);
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
    int fd = face_rig_connect(&rig, "127.0.0.1");
    for (unsigned round = 0; round < ROUNDS; round++) {
        for (unsigned i = 0; i < ROUND; i++)
            face_rig_put_read(requests + 12 * i, (uint16_t)(round * ROUND + i), 0, 2);
        face_rig_send(&rig, fd, requests, sizeof requests);
        ck_assert_uint_eq(face_rig_receive(&rig, fd, answers, sizeof answers), sizeof answers);
        ck_assert_uint_eq(get16(answers + 13 * (ROUND - 1)), (uint16_t)(round * ROUND + ROUND - 1));
    }
    close(fd);
}
END_TEST

/* ---- turns --------------------------------------------------------------------------------------------- */

START_TEST(while_a_cycle_is_due_nothing_is_answered_and_afterwards_everything)
{
    int fd = face_rig_connect(&rig, "127.0.0.1");
    rig.cycle_due = true;
    face_rig_send_hex(&rig, fd, ASK_PROOF);
    ck_assert_str_eq(face_rig_frame(&rig, fd, 20), "nothing");
    ck_assert_uint_eq(kr_face_counters(rig.face)->requests, 0);
    rig.cycle_due = false;
    ck_assert_str_eq(face_rig_frame(&rig, fd, 5000), ANSWER_PROOF);
    close(fd);
}
END_TEST

START_TEST(a_connection_that_comes_while_a_cycle_is_due_is_accepted_afterwards)
{
    int first = face_rig_connect(&rig, "127.0.0.1");
    ck_assert_str_eq(face_rig_ask(&rig, first, ASK_PROOF), ANSWER_PROOF);
    rig.cycle_due = true;
    int fd = face_rig_connect(&rig, "127.0.0.1");
    face_rig_run_ms(&rig, 5);
    ck_assert_uint_eq(kr_face_counters(rig.face)->accepted, 1);
    rig.cycle_due = false;
    ck_assert_str_eq(face_rig_ask(&rig, fd, ASK_PROOF), ANSWER_PROOF);
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
    face_rig_put_read(request, 1, 0, 2);
    for (int i = 0; i < N; i++) {
        fd[i] = face_rig_connect(&rig, "127.0.0.1");
        face_rig_send(&rig, fd[i], request, sizeof request);
    }
    rig.due_after = 8;
    for (int turn = 0; turn < TURNS; turn++) {
        face_rig_cycle(&rig);
        for (int i = 0; i < N; i++) {
            if (recv(fd[i], answer, sizeof answer, MSG_DONTWAIT) != sizeof answer)
                continue;
            answers[i]++;
            face_rig_send(&rig, fd[i], request, sizeof request);
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
    int greedy = face_rig_connect(&rig, "127.0.0.1"), modest = face_rig_connect(&rig, "127.0.0.1");
    for (uint16_t i = 0; i < N; i++)
        face_rig_put_read(requests + 12 * i, i, 0, 2);
    ssize_t sent = send(greedy, requests, sizeof requests, MSG_DONTWAIT);
    ck_assert_int_gt(sent, 12 * 1000);
    ck_assert_str_eq(face_rig_ask(&rig, modest, ASK_PROOF), ANSWER_PROOF);
    ck_assert_uint_lt(kr_face_counters(rig.face)->requests, 1000);
    close(greedy);
    close(modest);
}
END_TEST

START_TEST(a_client_that_never_reads_is_closed_and_stops_nobody)
{
    struct kr_face_config config = face_rig_defaults();
    config.limits.partial_ms = 100;
    face_rig_start(&rig, &config);
    static uint8_t requests[12 * 1000];
    int deaf = face_rig_connect(&rig, "127.0.0.1"), other = face_rig_connect(&rig, "127.0.0.1");
    for (uint16_t i = 0; i < 1000; i++)
        face_rig_put_read(requests + 12 * i, i, 0, 125);
    uint64_t end = uv_hrtime() + 5000000000u;
    while (kr_face_counters(rig.face)->expired == 0 && uv_hrtime() < end) {
        if (send(deaf, requests, sizeof requests, MSG_DONTWAIT | MSG_NOSIGNAL) < 0)
            face_rig_cycle(&rig);
        ck_assert_str_eq(face_rig_ask(&rig, other, ASK_PROOF), ANSWER_PROOF);
    }
    ck_assert_uint_eq(kr_face_counters(rig.face)->expired, 1);
    close(deaf);
    close(other);
    face_rig_end(&rig);
}
END_TEST

/* libuv writes without MSG_NOSIGNAL; an end and then a reset make the next write raise SIGPIPE. */
START_TEST(a_client_that_resets_its_connection_does_not_end_the_process)
{
    static uint8_t requests[12 * 2000];
    for (uint16_t i = 0; i < 2000; i++)
        face_rig_put_read(requests + 12 * i, i, 0, 125);
    for (int i = 0; i < 20; i++) {
        int fd = face_rig_connect(&rig, "127.0.0.1");
        struct linger hard = {.l_onoff = 1};
        ck_assert_int_eq(setsockopt(fd, SOL_SOCKET, SO_LINGER, &hard, sizeof hard), 0);
        ck_assert_int_gt(send(fd, requests, sizeof requests, MSG_DONTWAIT), 0);
        ck_assert_int_eq(shutdown(fd, SHUT_WR), 0);
        for (int turns = 0; turns < i; turns++)
            face_rig_cycle(&rig);
        close(fd);
        for (int turns = 0; turns < 20; turns++)
            face_rig_cycle(&rig);
    }
    int fd = face_rig_connect(&rig, "127.0.0.1");
    ck_assert_str_eq(face_rig_ask(&rig, fd, ASK_PROOF), ANSWER_PROOF);
    close(fd);
}
END_TEST

START_TEST(a_slow_reader_gets_every_answer_whole_and_in_order)
{
    enum { N = 60000 };
    int fd = face_rig_connect(&rig, "127.0.0.1");
    static uint8_t requests[12 * N], answer[259];
    for (unsigned i = 0; i < N; i++)
        face_rig_put_read(requests + 12 * (size_t)i, (uint16_t)i, 0, 125);
    size_t sent = 0, n = 0;
    while (n < N) {
        ssize_t more = sent < sizeof requests ? send(fd, requests + sent, sizeof requests - sent, MSG_DONTWAIT) : 0;
        sent += more > 0 ? (size_t)more : 0;
        if (more > 0) { /* fill up first, so that the face has to wait for this reader */
            face_rig_cycle(&rig);
            continue;
        }
        ck_assert_uint_eq(face_rig_receive(&rig, fd, answer, sizeof answer), sizeof answer);
        ck_assert_uint_eq(get16(answer), (uint16_t)n);
        ck_assert_uint_eq(get16(answer + 4), 253);
        n++;
    }
    close(fd);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("face_server");
    TCase *open = suite_case(suite, "on an open face");
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

    TCase *own = suite_case(suite, "on a face of its own");
    tcase_add_test(own, a_client_that_never_reads_is_closed_and_stops_nobody);

    return suite;
}
