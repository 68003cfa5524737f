/* face_plain: a server as libmodbus's own documentation builds it: select() over all connections,
 * modbus_receive(), modbus_reply(). The benchmark's comparison. Usage: face_plain; prints "port N". */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/select.h>
#include <sys/socket.h>
#include <unistd.h>

#include <modbus.h>
#include <netinet/in.h>

static void serve(modbus_t *ctx, modbus_mapping_t *mapping, int server)
{
    fd_set all;
    int last = server, listener = server;
    FD_ZERO(&all);
    FD_SET(server, &all);
    for (;;) {
        fd_set ready = all;
        if (select(last + 1, &ready, NULL, NULL, NULL) < 0)
            return;
        for (int fd = 0; fd <= last; fd++) {
            uint8_t query[MODBUS_TCP_MAX_ADU_LENGTH];
            if (!FD_ISSET(fd, &ready))
                continue;
            if (fd == server) {
                int accepted = modbus_tcp_accept(ctx, &listener);
                if (accepted < 0 || accepted >= FD_SETSIZE)
                    return;
                FD_SET(accepted, &all);
                last = accepted > last ? accepted : last;
                continue;
            }
            modbus_set_socket(ctx, fd);
            int n = modbus_receive(ctx, query);
            if (n > 0) {
                modbus_reply(ctx, query, n, mapping);
            } else if (n < 0) {
                close(fd);
                FD_CLR(fd, &all);
            }
        }
    }
}

int main(void)
{
    modbus_t *ctx = modbus_new_tcp("127.0.0.1", 0);
    modbus_mapping_t *mapping = modbus_mapping_new(2000, 2000, 500, 500);
    struct sockaddr_in address;
    socklen_t size = sizeof address;
    if (ctx == NULL || mapping == NULL)
        return EXIT_FAILURE;
    int server = modbus_tcp_listen(ctx, 512);
    if (server < 0 || getsockname(server, (struct sockaddr *)&address, &size) != 0)
        return EXIT_FAILURE;
    printf("port %u\n", ntohs(address.sin_port));
    fflush(stdout);
    serve(ctx, mapping, server);
    return EXIT_FAILURE;
}
