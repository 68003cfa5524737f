/* admission: who may reach the Modbus/TCP server and what they may do there. It holds the server's addresses, rights,
 * groups and limits as plain data, and it reads addresses. The config fills these structs from the station file, and
 * the face takes them unchanged. Any thread may call it. Stands on base. */
#ifndef KNIFERAIL_ADMISSION_H
#define KNIFERAIL_ADMISSION_H

#include "kniferail/base.h"

#define KR_FACE_LISTEN_MAX     8
#define KR_FACE_RULES_MAX      64
#define KR_FACE_GROUPS_MAX     16
#define KR_FACE_PREFIXES_MAX   8  /* prefixes of a group */
#define KR_FACE_ADDRESS_MAX    46 /* an IPv4 or IPv6 address as text, with its closing 0 */
#define KR_FACE_GROUP_NAME_MAX 40 /* with its closing 0; CONTROL_HOLDER shows it */

/* The first three are the numbers of OWN_ROLE. Each of them includes the rights before it. */
enum kr_right {
    KR_RIGHT_READ = 0,
    KR_RIGHT_CONTROL = 1,
    KR_RIGHT_MAINTAIN = 2,
    KR_RIGHT_NONE = 3, /* the address may not even connect */
};

/* A range of addresses. IPv4 a.b.c.d/n is kept as the IPv6 range ::ffff:a.b.c.d/(96 + n). */
struct kr_prefix {
    uint8_t address[16];
    uint8_t bits; /* 0 to 128; address bits beyond it are 0 */
};

/* Reads "192.0.2.0/24", "2001:db8::/32" or a single address. Returns false, and leaves *prefix untouched, if the text
 * is none of these, has too many bits, or sets address bits beyond the prefix. Such bits show that the writer meant
 * another range. */
bool kr_prefix_from_text(const char *text, struct kr_prefix *prefix);

#define KR_RULE_OF_NO_STATION UINT16_MAX /* a rule for a station that does not run */

struct kr_face_rule {
    struct kr_prefix prefix;
    enum kr_right right;
    uint16_t station_number; /* number of the station to which the rule applies, from 1; 0: every station */
};

struct kr_face_group {
    char name[KR_FACE_GROUP_NAME_MAX];
    uint16_t n_prefixes;
    struct kr_prefix prefix[KR_FACE_PREFIXES_MAX];
};

struct kr_face_listen {
    /* For instance "127.0.0.1", "0.0.0.0" or "::". The last one includes IPv4 where the system allows it. */
    char address[KR_FACE_ADDRESS_MAX];
    uint16_t port; /* 0: any free port */
};

struct kr_face_limits {
    uint32_t connections;             /* connections of all clients together, 1 to 4096 */
    uint32_t connections_per_address; /* 1 or more */
    /* Answers of one connection that are formed and not yet sent, and answers that are formed in one turn of the loop;
     * 1 to 64. */
    uint32_t queued_answers;
    uint32_t requests_per_s; /* requests of one connection; faster ones wait; 0: no limit */
    uint32_t idle_ms;        /* a connection without a whole request for this time is closed; 0: never */
    /* Time limit for the rest of a frame, and for the client to read its answers; 10 or more. */
    uint32_t partial_ms;
};

#endif
