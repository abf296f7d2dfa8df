/* Loaded before the C library: makes the n-th writing call on a regular file fail, and has the clock of
 * the wall jump. HC_FAIL_AT, HC_FAIL_FOR, HC_FAIL_WITH and HC_HALF say which call, how many from there
 * on, with which error, and whether half of a write comes through before it; HC_COUNT names a file that
 * the number of calls goes into; HC_CLOCK has the wall clock jump, differently for each number. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <sys/uio.h>
#include <time.h>
#include <unistd.h>

static long fail_at, fail_for, half, jumps;
static int fail_with;
static atomic_long calls, ticks;

static long number(const char *name, long otherwise) {
    const char *text = getenv(name);
    return text ? atol(text) : otherwise;
}

__attribute__((constructor)) static void begin(void) {
    fail_at = number("HC_FAIL_AT", -1);
    fail_for = number("HC_FAIL_FOR", 1);
    fail_with = (int)number("HC_FAIL_WITH", ENOSPC);
    half = number("HC_HALF", 0);
    jumps = number("HC_CLOCK", 0);
}

__attribute__((destructor)) static void end(void) {
    const char *name = getenv("HC_COUNT");
    FILE *file = name ? fopen(name, "w") : NULL;
    if (file) {
        fprintf(file, "%ld\n", (long)calls);
        fclose(file);
    }
}

static int fails(int fd) {
    struct stat about;
    if (fd <= 2 || fstat(fd, &about) || !S_ISREG(about.st_mode))
        return 0;
    long now = atomic_fetch_add(&calls, 1) + 1;
    return fail_at > 0 && now >= fail_at && now < fail_at + fail_for;
}

#define REAL(name) ((__typeof__(&name))dlsym(RTLD_NEXT, #name))

ssize_t write(int fd, const void *bytes, size_t size) {
    if (fails(fd)) {
        if (half && size > 1)
            return REAL(write)(fd, bytes, size / 2);
        errno = fail_with;
        return -1;
    }
    return REAL(write)(fd, bytes, size);
}

ssize_t writev(int fd, const struct iovec *parts, int count) {
    if (fails(fd)) {
        errno = fail_with;
        return -1;
    }
    return REAL(writev)(fd, parts, count);
}

ssize_t pwrite(int fd, const void *bytes, size_t size, off_t at) {
    if (fails(fd)) {
        errno = fail_with;
        return -1;
    }
    return REAL(pwrite)(fd, bytes, size, at);
}

ssize_t pwrite64(int fd, const void *bytes, size_t size, off64_t at) {
    if (fails(fd)) {
        errno = fail_with;
        return -1;
    }
    return REAL(pwrite64)(fd, bytes, size, at);
}

int fsync(int fd) {
    if (fails(fd)) {
        errno = fail_with == ENOSPC ? EIO : fail_with;
        return -1;
    }
    return REAL(fsync)(fd);
}

int fdatasync(int fd) {
    if (fails(fd)) {
        errno = fail_with == ENOSPC ? EIO : fail_with;
        return -1;
    }
    return REAL(fdatasync)(fd);
}

int ftruncate(int fd, off_t size) {
    if (fails(fd)) {
        errno = fail_with;
        return -1;
    }
    return REAL(ftruncate)(fd, size);
}

int ftruncate64(int fd, off64_t size) {
    if (fails(fd)) {
        errno = fail_with;
        return -1;
    }
    return REAL(ftruncate64)(fd, size);
}

int clock_gettime(clockid_t clock, struct timespec *now) {
    static const long far[] = {0, 3600, -34560000, 0, 315360000, -7, 86400, 0};
    int got = REAL(clock_gettime)(clock, now);
    if (jumps && clock == CLOCK_REALTIME && got == 0) {
        long tick = atomic_fetch_add(&ticks, 1);
        now->tv_sec += far[(tick / 3 * jumps + jumps) % 8];
    }
    return got;
}
