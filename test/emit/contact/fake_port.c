/* A port whose module, network, flash and broker do as they are told, on a clock of its own: a wait takes no time.
 * Each argument is one start, `key=value` pairs between blanks; a value is a list that is used up in order, its last
 * part again and again. The flash lives from one argument to the next. Prints one line of JSON a start.
 *
 *   start=powered|browned-out|woken   volts=2950      flash=new|nonsense (before this start)
 *   fast=MS|fails   slow=MS|fails     open=MS|fails|refused (which takes 5 ms)
 *   connack=CODE|silent|closes|nonsense   ack=MS|silent|closes|stale
 */
#include CONTACT_HEADER
#include "contact_port.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static uint8_t flash[2][CONTACT_SLOT_BYTES];
static size_t flash_size[2];
static const char *script;
static uint32_t now;
static int used[8];

static struct {
  unsigned fast, slow, open, close, sleeps, saves[2], loads;
  uint32_t waited;
  char sent[4096];
  char nodes[32]; /* that were opened, in order */
} did;

enum { START, VOLTS, FAST, SLOW, OPEN, CONNACK, ACK };
static const char *const keys[] = {"start", "volts", "fast", "slow", "open", "connack", "ack"};

/* The next part of a key's list, or what holds without it. */
static const char *told(int key, const char *otherwise) {
  static char part[32];
  char wanted[16];
  const char *at;
  (void)snprintf(wanted, sizeof wanted, "%s=", keys[key]);
  at = strstr(script, wanted);
  if (!at) return otherwise;
  at += strlen(wanted);
  for (int skipped = 0; skipped < used[key]; skipped++) {
    const char *next = at + strcspn(at, ", ");
    if (*next != ',') break;
    at = next + 1;
  }
  used[key]++;
  (void)snprintf(part, sizeof part, "%.*s", (int)strcspn(at, ", "), at);
  return part;
}

static bool takes(const char *value, uint32_t within) {
  const uint32_t milliseconds = (uint32_t)strtoul(value, NULL, 10);
  if (strcmp(value, "refused") == 0) {
    now += 5;
    return false;
  }
  if (strcmp(value, "fails") == 0 || milliseconds > within) {
    now += within;
    return false;
  }
  now += milliseconds;
  return true;
}

/* What the broker sends: bytes, and when they are there. */
static uint8_t coming[8];
static size_t coming_size;
static uint32_t coming_at;
static bool is_closed;

enum contact_start contact_port_start(void) {
  const char *start = told(START, "powered");
  return strcmp(start, "woken") == 0 ? CONTACT_WOKEN : strcmp(start, "browned-out") == 0 ? CONTACT_BROWNED_OUT : CONTACT_POWERED;
}
uint32_t contact_port_milliseconds(void) { return now; }
uint16_t contact_port_millivolts(void) { return (uint16_t)strtoul(told(VOLTS, "3000"), NULL, 10); }
size_t contact_port_load(enum contact_slot slot, uint8_t *bytes, size_t size) {
  const size_t count = flash_size[slot] < size ? flash_size[slot] : size;
  memcpy(bytes, flash[slot], count);
  did.loads++;
  return count;
}
void contact_port_save(enum contact_slot slot, const uint8_t *bytes, size_t size) {
  if (size > CONTACT_SLOT_BYTES) abort();
  memcpy(flash[slot], bytes, size);
  flash_size[slot] = size;
  did.saves[slot]++;
}
bool contact_port_join_fast(const struct contact_network *known, uint32_t within) {
  (void)known;
  did.fast++;
  return takes(told(FAST, "170"), within);
}
bool contact_port_join_slow(struct contact_network *learned, uint32_t within) {
  did.slow++;
  if (!takes(told(SLOW, "3900"), within)) return false;
  learned->channel = 11;
  memcpy(learned->access_point, "\x02\x00\x5e\x10\x00\x01", 6);
  memcpy(learned->address, "\xc0\xa8\x07\x1f", 4);
  return true;
}
bool contact_port_open(struct contact_network *network, uint32_t within) {
  did.open++;
  if (network->node >= CONTACT_BROKER_COUNT) abort();
  if (strlen(did.nodes) + 1 < sizeof did.nodes) did.nodes[strlen(did.nodes)] = (char)('0' + network->node);
  is_closed = false;
  coming_size = 0;
  if (!takes(told(OPEN, "20"), within)) return false;
  network->broker[0] = 10;
  return true;
}
static void answer(const char *value, uint8_t first, uint8_t a, uint8_t b) {
  const uint8_t bytes[4] = {first, 2, a, b};
  if (strcmp(value, "silent") == 0) return;
  if (strcmp(value, "closes") == 0) is_closed = true;
  else {
    memcpy(coming, bytes, 4);
    coming_size = 4;
    if (strcmp(value, "nonsense") == 0) coming[0] = 0x30;
    if (strcmp(value, "stale") == 0) coming[3] ^= 0x55;
  }
}
bool contact_port_send(const uint8_t *bytes, size_t size, uint32_t within) {
  (void)within;
  for (size_t at = 0; at < size; at++) (void)sprintf(did.sent + strlen(did.sent), "%02x", bytes[at]);
  (void)strcat(did.sent, " ");
  coming_size = 0;
  coming_at = now;
  if (bytes[0] == 0x10) {
    const char *value = told(CONNACK, "0");
    answer(value, 0x20, 0, (uint8_t)strtoul(value, NULL, 10));
  } else if ((bytes[0] & 0xf6) == 0x32 || (bytes[0] & 0xf6) == 0x34 || bytes[0] == 0x62) {
    const char *value = told(ACK, "10");
    const size_t id = bytes[0] == 0x62 ? 2 : 4u + sizeof(CONTACT_TOPIC) - 1;
    answer(value, bytes[0] == 0x62 ? 0x70 : (bytes[0] & 0x04) ? 0x50 : 0x40, bytes[id], bytes[id + 1]);
    coming_at += (uint32_t)strtoul(value, NULL, 10);
  }
  return true;
}
/* A byte at a time, so that packets come in pieces. */
int contact_port_receive(uint8_t *bytes, size_t size, uint32_t within) {
  if (size == 0) abort();
  if (is_closed) return -1;
  if (coming_size > 0 && coming_at <= now + within) {
    if (now < coming_at) now = coming_at;
    bytes[0] = coming[0];
    memmove(coming, coming + 1, --coming_size);
    return 1;
  }
  now += within;
  return 0;
}
void contact_port_close(void) { did.close++; }
enum contact_edge contact_port_edge(void) { return CONTACT_NO_EDGE; }
void contact_port_wait(uint32_t milliseconds) {
  now += milliseconds;
  did.waited += milliseconds;
}
void contact_port_sleep(const struct contact_report *report, uint32_t seconds) {
  did.sleeps++;
  (void)printf("{\"end\":%d,\"refusal\":%u,\"fast\":%u,\"slow\":%u,\"open\":%u,\"close\":%u,\"tries\":%u,"
               "\"savedBoots\":%u,\"savedNetwork\":%u,\"boots\":%lu,\"rested\":%u,\"lowest\":%u,\"joinMilliseconds\":%lu,"
               "\"acknowledgedMilliseconds\":%lu,\"awakeMilliseconds\":%lu,\"restedMilliseconds\":%lu,\"joinedFast\":%s,"
               "\"sleepSeconds\":%lu,\"nodes\":\"%s\",\"sent\":\"%s\"}\n",
               (int)report->end, report->refusal, did.fast, did.slow, did.open, did.close, report->tries, did.saves[0],
               did.saves[1], (unsigned long)report->boots, report->rested_millivolts, report->lowest_millivolts,
               (unsigned long)report->join_milliseconds, (unsigned long)report->acknowledged_milliseconds,
               (unsigned long)now, (unsigned long)did.waited, report->joined_fast ? "true" : "false",
               (unsigned long)seconds, did.nodes, did.sent);
}

int main(int count, char **arguments) {
  for (int at = 1; at < count; at++) {
    script = arguments[at];
    memset(&did, 0, sizeof did);
    memset(used, 0, sizeof used);
    now = 0;
    coming_size = 0;
    is_closed = false;
    if (strstr(script, "flash=new")) memset(flash, 0xff, sizeof flash), flash_size[0] = flash_size[1] = CONTACT_SLOT_BYTES;
    if (strstr(script, "flash=nonsense")) {
      for (size_t byte = 0; byte < sizeof flash; byte++) flash[byte / CONTACT_SLOT_BYTES][byte % CONTACT_SLOT_BYTES] = (uint8_t)(byte * 73 + 29);
      flash_size[0] = flash_size[1] = CONTACT_SLOT_BYTES;
    }
    contact_run();
    if (did.sleeps != 1) return 1;
  }
  return 0;
}
