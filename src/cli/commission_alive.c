/* Connections that stay open: a station is read while a person takes time, and while another station is at work. */
#include <time.h>

#include "commission.h"

#define ALIVE_MS 15000 /* so often a station is read while a person thinks, or goes to the machine */
#define SOON_MS  100   /* and at most so often, where the gateway closes connections very soon */

int64_t commission_now_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return now.tv_sec * INT64_C(1000) + now.tv_nsec / 1000000;
}

/* The gateway closes a connection over which nothing comes for face.limits.idle_ms. */
int commission_alive_ms(const struct commission *c)
{
    uint32_t idle_ms = c->config.face.limits.idle_ms;
    if (idle_ms == 0 || idle_ms >= 3 * ALIVE_MS)
        return ALIVE_MS;
    return idle_ms < 3 * SOON_MS ? SOON_MS : (int)(idle_ms / 3);
}

void commission_keep_also_alive(struct commission *c)
{
    int64_t now = commission_now_ms();
    if (c->also == NULL || now - c->also_read_ms < commission_alive_ms(c->also))
        return;
    c->also_read_ms = now;
    if (c->also->client.modbus != NULL)
        (void)kr_client_block(&c->also->client, KR_BLOCK_RUN); /* its next look says so if it fails */
}

void commission_keep_alive(struct commission *c)
{
    if (c->client.modbus != NULL)
        (void)kr_client_block(&c->client, KR_BLOCK_RUN); /* the next look says so if it fails */
    commission_keep_also_alive(c);
}
