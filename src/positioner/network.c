/* Asks the kernel about a connection. <linux/tcp.h> has the struct independently of the feature macros of the C
 * library's headers, but can't be included together with these. */
#include "network.h"

#include <linux/tcp.h>
#include <netinet/in.h>
#include <string.h>
#include <sys/socket.h>

bool network_confirms(int fd)
{
    struct tcp_info info;
    socklen_t size = sizeof info;
    memset(&info, 0, sizeof info);
    if (getsockopt(fd, IPPROTO_TCP, TCP_INFO, &info, &size) != 0)
        return true;
    return info.tcpi_unacked == 0;
}
