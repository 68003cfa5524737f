/* Put in front of the C library (LD_PRELOAD): every sync of a file takes KR_SYNC_MS longer, as on a tired disk, and
 * fails behind what was written while the file that KR_SYNC_FAILS names is there. A sync by the process's first
 * thread, which is the one that runs the cycle, is told on the standard error. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>
#include <unistd.h>

static void wait_first(void)
{
    const char *text = getenv("KR_SYNC_MS");
    long ms = text != NULL ? strtol(text, NULL, 10) : 0;
    struct timespec left = {.tv_sec = ms / 1000, .tv_nsec = ms % 1000 * 1000000};
    while (nanosleep(&left, &left) != 0)
        ;
}

static int sync_by(const char *name, int fd)
{
    int (*real)(int);
    *(void **)&real = dlsym(RTLD_NEXT, name); /* the way that POSIX gives for functions */
    if (gettid() == getpid())
        fprintf(stderr, "%s by the first thread\n", name);
    wait_first();
    const char *fault = getenv("KR_SYNC_FAILS");
    if (fault != NULL && access(fault, F_OK) == 0) {
        errno = EIO;
        return -1;
    }
    return real != NULL ? real(fd) : -1;
}

int fsync(int fd)
{
    return sync_by("fsync", fd);
}

int fdatasync(int fd)
{
    return sync_by("fdatasync", fd);
}
