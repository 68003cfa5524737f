/* access: who a client is, and what its address may do. Pure. */
#ifndef KR_FACE_ACCESS_H
#define KR_FACE_ACCESS_H

#include "kniferail/face.h"

#define FACE_NO_GROUP (-1)
#define FACE_HOST_MAX (KR_FACE_ADDRESS_MAX + 3) /* "/64" */

struct sockaddr;

struct face_client {
    uint8_t address[16]; /* IPv4 as ::ffff:a.b.c.d */
    uint16_t port;
    enum kr_right right;                 /* the most that it may do at any station; NONE: it may not even connect */
    uint8_t at_station[KR_STATIONS_MAX]; /* enum kr_right: what it may do at each station */
    int group;                           /* index of a group, or FACE_NO_GROUP */
    char text[KR_FACE_ADDRESS_MAX];      /* the address as people write it */
    char host[FACE_HOST_MAX];            /* what counts as one host, see face_client_same_host */
};

/* Makes a client from a socket address; config gives its rights and its group. False for a family that is neither IPv4
 * nor IPv6. */
bool face_client_from_sockaddr(struct face_client *client, const struct sockaddr *from,
                               const struct kr_face_config *config);

/* Finds rights and group of a client again, after the rules have changed. */
void face_client_judge(struct face_client *client, const struct kr_face_config *config);

/* Do both count as one host? One host is one IPv4 address, or one IPv6 network of 64 bits, in which a host may take any
 * address that it likes (RFC 4291, 2.5.4; RFC 8981). */
bool face_client_same_host(const struct face_client *a, const struct face_client *b);

/* Returns what the client may do at the station of that index. */
enum kr_right face_client_right(const struct face_client *client, uint16_t station);

/* Does this right include control? KR_RIGHT_NONE is the highest number and the least right. */
bool face_right_controls(enum kr_right right);

/* May an address of the group control that station, by the rule that covers the group or by a rule for a part of it? */
bool face_group_may_control(const struct kr_face_group *group, const struct kr_face_config *config, uint16_t station);

#endif
