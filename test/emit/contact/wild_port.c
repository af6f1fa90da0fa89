/* A port that does anything: every answer is drawn, the broker's bytes too. Plays many starts and holds what must hold
 * whatever happens; meant to be built with the address and undefined behaviour sanitizers. The first argument is the
 * seed, the second how many starts.
 */
#include CONTACT_HEADER
#include "contact_port.h"
#include <setjmp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static uint32_t seed, now;
static uint8_t flash[2][CONTACT_SLOT_BYTES];
static unsigned opens, saves[2], sleeps, publishes;
static int ends[6];
static unsigned long published;

static uint32_t draw(uint32_t below) {
  seed ^= seed << 13;
  seed ^= seed >> 17;
  seed ^= seed << 5;
  return seed % below;
}
static void hold(bool holds, const char *what) {
  if (holds) return;
  (void)fprintf(stderr, "%s\n", what);
  abort();
}
/* How often things go wrong in this start: one time in so many. */
static uint32_t calm;
static bool fails(void) { return draw(calm) == 0; }

/* Some part of the time, sometimes all of it. */
static bool pass(uint32_t within) {
  const bool in_time = !fails();
  now += in_time ? draw(within + 1) : within;
  return in_time;
}

enum contact_start contact_port_start(void) { return fails() ? CONTACT_BROWNED_OUT : draw(2) ? CONTACT_WOKEN : CONTACT_POWERED; }
uint32_t contact_port_milliseconds(void) { return now; }
uint16_t contact_port_millivolts(void) { return (uint16_t)draw(65536); }
size_t contact_port_load(enum contact_slot slot, uint8_t *bytes, size_t size) {
  const size_t count = fails() ? draw((uint32_t)size + 1) : size;
  if (fails()) flash[slot][draw(CONTACT_SLOT_BYTES)] = (uint8_t)draw(256);
  memcpy(bytes, flash[slot], count);
  return count;
}
void contact_port_save(enum contact_slot slot, const uint8_t *bytes, size_t size) {
  hold(size <= CONTACT_SLOT_BYTES, "a record is longer than its slot");
  memcpy(flash[slot], bytes, size);
  saves[slot]++;
}
bool contact_port_join_fast(const struct contact_network *known, uint32_t within) {
  (void)known;
  return pass(within) && !fails();
}
bool contact_port_join_slow(struct contact_network *learned, uint32_t within) {
  for (size_t at = 0; at < sizeof *learned; at++) ((uint8_t *)learned)[at] = (uint8_t)draw(4);
  return pass(within) && !fails();
}
bool contact_port_open(struct contact_network *network, uint32_t within) {
  (void)network;
  opens++;
  return pass(within) && !fails();
}
static uint8_t last_first, last_id[2];
bool contact_port_send(const uint8_t *bytes, size_t size, uint32_t within) {
  hold(size >= 2, "a packet has two bytes at least");
  hold(bytes[0] != 0xe0, "DISCONNECT would discard the will");
  hold(bytes[0] == 0x10 || (bytes[0] & 0xf0) == 0x30 || bytes[0] == 0x62 ||
           (CONTACT_REPORTS_BOTH && bytes[0] == 0xc0), "no such packet");
  if ((bytes[0] & 0xf0) == 0x30) {
    publishes++;
    hold((bytes[0] >> 1 & 3) == CONTACT_QOS, "the header's quality of service");
    hold((bytes[0] & 1) == CONTACT_RETAIN, "retained as the header says");
    if (CONTACT_QOS > 0) memcpy(last_id, bytes + 4 + sizeof(CONTACT_TOPIC) - 1, 2);
  }
  last_first = bytes[0];
  return pass(within) && !fails();
}
/* Often the right answer, in pieces; often nonsense. */
int contact_port_receive(uint8_t *bytes, size_t size, uint32_t within) {
  static uint8_t right[4];
  static size_t left;
  if (fails()) {
    now += draw(within + 1);
    return draw(3) == 0 ? -1 : 0;
  }
  if (fails()) {
    const size_t count = 1 + draw((uint32_t)size);
    for (size_t at = 0; at < count; at++) bytes[at] = (uint8_t)(draw(3) ? draw(256) : draw(8) << 5);
    return (int)count;
  }
  if (left == 0) {
    right[0] = last_first == 0x10 ? 0x20 : last_first == 0x62 ? 0x70 : CONTACT_QOS == 2 ? 0x50 : 0x40;
    right[1] = 2;
    right[2] = last_first == 0x10 ? 0 : last_id[0];
    right[3] = last_first == 0x10 ? (uint8_t)(fails() ? draw(256) : 0) : last_id[1];
    left = 4;
    if (last_first == 0xc0) {
      right[2] = 0xd0;
      right[3] = 0;
      left = 2;
    }
  }
  bytes[0] = right[4 - left--];
  now += draw(2);
  return 1;
}
void contact_port_close(void) {}

/* A contact of both edges never ends: its start is over after so many waits. */
static jmp_buf over;
static unsigned waits;
enum contact_edge contact_port_edge(void) { return draw(4) ? CONTACT_NO_EDGE : draw(2) ? CONTACT_OPENED : CONTACT_CLOSED; }
void contact_port_wait(uint32_t milliseconds) {
  hold(milliseconds > 0 || !CONTACT_REPORTS_BOTH, "a wait of no time is a loop");
  now += draw(2) ? milliseconds : draw(milliseconds + 1);
  if (CONTACT_REPORTS_BOTH && ++waits == 200) longjmp(over, 1);
}
void contact_port_sleep(const struct contact_report *report, uint32_t seconds) {
  (void)seconds;
  sleeps++;
  ends[report->end]++;
  hold(report->end != CONTACT_ACKNOWLEDGED || publishes > 0, "acknowledged, and nothing was said");
  hold(report->end != CONTACT_REFUSED || report->refusal != 0, "refused without a code");
  hold(report->lowest_millivolts <= report->rested_millivolts, "the lowest is above the first");
}

int main(int count, char **arguments) {
  /* Static, since longjmp may forget what was kept in a register. */
  static unsigned long at, starts;
  starts = count > 2 ? strtoul(arguments[2], NULL, 10) : 1000;
  seed = count > 1 ? (uint32_t)strtoul(arguments[1], NULL, 10) | 1 : 1;
  for (at = 0; at < starts; at++) {
    now = draw(2) ? 0 : 300;
    calm = 2 + draw(60);
    opens = saves[0] = saves[1] = sleeps = publishes = 0;
    if (CONTACT_REPORTS_BOTH) {
      waits = 0;
      if (setjmp(over) == 0) contact_run();
      /* Each lost link is followed by a pause of a second at least: even two contacts with one client id stay calm. */
      hold(opens <= 2 + 2 * (now / CONTACT_PAUSE_MILLISECONDS), "connections without a pause");
      hold(saves[0] <= 1, "flash written twice");
      published += publishes;
      continue;
    }
    contact_run();
    hold(sleeps == 1, "a start ends in one sleep");
    /* Each step may begin just within the time and is cut by it; a receive of one byte takes a millisecond here. */
    hold(now <= CONTACT_AWAKE_MILLISECONDS + CONTACT_REST_MILLISECONDS + 100, "awake for too long");
    hold(opens <= CONTACT_TRIES + 1, "more connections than tries");
    hold(publishes <= CONTACT_TRIES, "a word said too often");
    hold(saves[0] <= 1 && saves[1] <= 1, "flash written twice");
  }
  (void)printf("{\"ends\":[%d,%d,%d,%d,%d,%d],\"published\":%lu}\n", ends[0], ends[1], ends[2], ends[3], ends[4], ends[5], published);
  return 0;
}
