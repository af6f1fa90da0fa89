/* The port for the desk: a contact that runs as a program, over a plain TCP socket (POSIX.1-2008).
 *
 *   cc -std=c99 -DCONTACT_HEADER='"w07.h"' contact.c contact_posix.c -o w07 && ./w07
 *
 * With openings only it says its word and falls silent with its socket open, until the broker has given it up. With
 * both edges it reads `opened` and `closed`, one a line, from standard input; at the end of the input its power is
 * gone, and it falls silent as well.
 * CONTACT_FLASH names the file that stands for its flash (without: its mark and .flash, here), CONTACT_MILLIVOLTS the
 * volts of its supply (without: 3000).
 */
#define _POSIX_C_SOURCE 200809L

#include CONTACT_HEADER

#include "contact_port.h"

#include <errno.h>
#include <fcntl.h>
#include <netdb.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#ifndef CONTACT_BROKER_HOST
#error "The register names no broker: give CONTACT_BROKER_HOST, CONTACT_BROKER_PORT and CONTACT_BROKER_TLS in private.h"
#endif
#if CONTACT_BROKER_TLS
#error "This port speaks no TLS: write a port that does, or try the contact on a broker with an mqtt:// address"
#endif

static int link_socket = -1;
static bool input_is_over = false;
static struct timespec begun;

static uint32_t since_begun(void) {
  struct timespec now;
  (void)clock_gettime(CLOCK_MONOTONIC, &now);
  return (uint32_t)((now.tv_sec - begun.tv_sec) * 1000 + (now.tv_nsec - begun.tv_nsec) / 1000000);
}

enum contact_start contact_port_start(void) { return CONTACT_POWERED; }

uint32_t contact_port_milliseconds(void) { return since_begun(); }

uint16_t contact_port_millivolts(void) {
  const char *given = getenv("CONTACT_MILLIVOLTS");
  const long millivolts = given ? strtol(given, NULL, 10) : 3000;
  return (uint16_t)(millivolts < 0 ? 0 : millivolts > UINT16_MAX ? UINT16_MAX : millivolts);
}

static const char *flash_path(void) {
  const char *given = getenv("CONTACT_FLASH");
  return given && *given ? given : CONTACT_MARK ".flash";
}

size_t contact_port_load(enum contact_slot slot, uint8_t *bytes, size_t size) {
  const int file = open(flash_path(), O_RDONLY | O_CLOEXEC);
  ssize_t count;
  if (file < 0) return 0;
  count = pread(file, bytes, size, (off_t)slot * CONTACT_SLOT_BYTES);
  (void)close(file);
  return count < 0 ? 0 : (size_t)count;
}

void contact_port_save(enum contact_slot slot, const uint8_t *bytes, size_t size) {
  const int file = open(flash_path(), O_WRONLY | O_CREAT | O_CLOEXEC, S_IRUSR | S_IWUSR);
  if (file < 0 || pwrite(file, bytes, size, (off_t)slot * CONTACT_SLOT_BYTES) != (ssize_t)size)
    (void)fprintf(stderr, CONTACT_MARK ": %s: %s\n", flash_path(), strerror(errno));
  if (file >= 0) (void)close(file);
}

/* A desk is on its network already. */
bool contact_port_join_fast(const struct contact_network *known, uint32_t within) {
  (void)known, (void)within;
  return true;
}

bool contact_port_join_slow(struct contact_network *learned, uint32_t within) {
  (void)learned, (void)within;
  return true;
}

static int remaining(uint32_t begin, uint32_t within) {
  const uint32_t passed = since_begun() - begin;
  const uint32_t left = passed < within ? within - passed : 0;
  return left > INT32_MAX ? INT32_MAX : (int)left;
}

/* Waits until a socket is ready; true also when it is lost, which its next use tells. */
static bool ready(int socket, short events, int milliseconds) {
  struct pollfd one = {socket, events, 0};
  return poll(&one, 1, milliseconds) > 0;
}

static bool reach_address(const struct addrinfo *address, uint32_t begin, uint32_t within) {
  const int one = 1;
  int failed = 0;
  socklen_t size = sizeof failed;
  const int made = socket(address->ai_family, address->ai_socktype, address->ai_protocol);
  if (made < 0) return false;
  (void)fcntl(made, F_SETFL, O_NONBLOCK);
  (void)fcntl(made, F_SETFD, FD_CLOEXEC);
  (void)setsockopt(made, IPPROTO_TCP, TCP_NODELAY, &one, sizeof one);
  if (connect(made, address->ai_addr, address->ai_addrlen) < 0 && errno != EINPROGRESS) failed = errno;
  else if (!ready(made, POLLOUT, remaining(begin, within))) failed = ETIMEDOUT;
  else if (getsockopt(made, SOL_SOCKET, SO_ERROR, &failed, &size) < 0) failed = errno;
  if (failed != 0) {
    (void)close(made);
    return false;
  }
  link_socket = made;
  return true;
}

/* The system's own resolver is asked, and takes its own time for a name that it cannot find. */
bool contact_port_open(struct contact_network *network, uint32_t within) {
  const uint32_t begin = since_begun();
  struct addrinfo wanted, *found = NULL;
  char port[6];
  (void)network; /* one node only: the macros do not look at it */
  memset(&wanted, 0, sizeof wanted);
  wanted.ai_family = AF_UNSPEC;
  wanted.ai_socktype = SOCK_STREAM;
  (void)snprintf(port, sizeof port, "%u", (unsigned)CONTACT_NODE_PORT(network));
  if (getaddrinfo(CONTACT_NODE_HOST(network), port, &wanted, &found) != 0) return false;
  for (const struct addrinfo *one = found; one && link_socket < 0; one = one->ai_next)
    (void)reach_address(one, begin, within);
  freeaddrinfo(found);
  return link_socket >= 0;
}

bool contact_port_send(const uint8_t *bytes, size_t size, uint32_t within) {
  const uint32_t begin = since_begun();
  while (size > 0) {
    const ssize_t sent = send(link_socket, bytes, size, MSG_NOSIGNAL);
    if (sent >= 0) {
      bytes += sent;
      size -= (size_t)sent;
    } else if (errno != EAGAIN && errno != EWOULDBLOCK && errno != EINTR) {
      return false;
    } else if (!ready(link_socket, POLLOUT, remaining(begin, within))) {
      return false;
    }
  }
  return true;
}

int contact_port_receive(uint8_t *bytes, size_t size, uint32_t within) {
  ssize_t count;
  if (!ready(link_socket, POLLIN, remaining(since_begun(), within))) return 0;
  count = recv(link_socket, bytes, size, 0);
  if (count < 0 && (errno == EAGAIN || errno == EWOULDBLOCK || errno == EINTR)) return 0;
  return count > 0 ? (int)count : -1;
}

void contact_port_close(void) {
  if (link_socket >= 0) (void)close(link_socket);
  link_socket = -1;
}

/* Nothing is sent any more, and the socket stays open: until the broker closes it, or half a minute after it should
 * have.
 */
static void fall_silent(void) {
  const uint32_t begin = since_begun();
  const uint32_t within = CONTACT_KEEP_ALIVE_SECONDS * UINT32_C(1500) + 30000;
  uint8_t ignored[64];
  while (link_socket >= 0 && remaining(begin, within) > 0) {
    if (contact_port_receive(ignored, sizeof ignored, (uint32_t)remaining(begin, within)) < 0) contact_port_close();
  }
  contact_port_close();
}

/* One line of the input at a time, as it comes; a line that is no edge is told and passed over. */
enum contact_edge contact_port_edge(void) {
  static char line[16];
  static size_t length = 0;
  char byte;
  while (!input_is_over && ready(STDIN_FILENO, POLLIN, 0)) {
    const ssize_t count = read(STDIN_FILENO, &byte, 1);
    if (count < 0 && errno == EINTR) continue;
    if (count <= 0) input_is_over = true;
    else if (byte != '\n') {
      if (length < sizeof line - 1) line[length++] = byte;
    } else {
      line[length] = '\0';
      length = 0;
      if (strcmp(line, "opened") == 0) return CONTACT_OPENED;
      if (strcmp(line, "closed") == 0) return CONTACT_CLOSED;
      (void)fprintf(stderr, CONTACT_MARK ": %s is neither opened nor closed\n", line);
    }
  }
  if (input_is_over) {
    fall_silent();
    exit(EXIT_SUCCESS);
  }
  return CONTACT_NO_EDGE;
}

/* Until the time is over, or an edge or a byte of the broker has come. */
void contact_port_wait(uint32_t milliseconds) {
  struct pollfd both[2] = {{STDIN_FILENO, POLLIN, 0}, {link_socket, POLLIN, 0}};
  if (!CONTACT_REPORTS_BOTH) both[0].fd = -1;
  (void)poll(both, 2, remaining(since_begun(), milliseconds));
}

static const char *what_became(const struct contact_report *report) {
  switch (report->end) {
    case CONTACT_ACKNOWLEDGED:
      return CONTACT_QOS > 0 ? "acknowledged" : "sent";
    case CONTACT_NOT_JOINED:
      return "not joined";
    case CONTACT_NOT_REACHED:
      return "the broker was not reached";
    case CONTACT_REFUSED:
      return "the broker refuses";
    case CONTACT_NOT_ACKNOWLEDGED:
      return "not acknowledged";
    case CONTACT_STARVED:
      return "starved";
  }
  return "?";
}

void contact_port_sleep(const struct contact_report *report, uint32_t seconds) {
  (void)fprintf(stderr, CONTACT_MARK ": %s after %u ms, %u tries, lowest %u mV\n", what_became(report),
                (unsigned)since_begun(), (unsigned)report->tries, (unsigned)report->lowest_millivolts);
  if (report->end == CONTACT_REFUSED) (void)fprintf(stderr, CONTACT_MARK ": return code %u\n", (unsigned)report->refusal);
  if (seconds == 0) {
    fall_silent();
    exit(report->end == CONTACT_ACKNOWLEDGED ? EXIT_SUCCESS : EXIT_FAILURE);
  }
  /* The timer wakes it while its window stays open: a new start, with the time from the beginning. */
  {
    const uint32_t begin = since_begun();
    while (remaining(begin, seconds * UINT32_C(1000)) > 0) {
      uint8_t ignored[64];
      if (link_socket < 0) (void)poll(NULL, 0, remaining(begin, seconds * UINT32_C(1000)));
      else if (contact_port_receive(ignored, sizeof ignored, (uint32_t)remaining(begin, seconds * UINT32_C(1000))) < 0)
        contact_port_close();
    }
    contact_port_close();
    (void)clock_gettime(CLOCK_MONOTONIC, &begun);
  }
}

int main(void) {
  (void)clock_gettime(CLOCK_MONOTONIC, &begun);
  for (;;) contact_run();
}
