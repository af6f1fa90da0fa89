/* A window contact: what it does from its start to its sleep. One opening, in order: count the start, take the volts,
 * join fast and else slowly, connect with a last will, publish the word, wait until the broker has it, keep what was
 * learned of the network, sleep with the socket open.
 */
#include "contact.h"

#ifndef CONTACT_HEADER
#error "Name the header of this contact: cc -DCONTACT_HEADER='\"w07.h\"'"
#endif
#include CONTACT_HEADER

#include "contact_kept.h"
#include "contact_packets.h"
#include "contact_payload.h"
#include "contact_port.h"

#include <string.h>

#define SIZE(text) (sizeof(text) - 1)
#define LONGEST(a, b) ((a) > (b) ? (a) : (b))

#ifdef CONTACT_PASSWORD
#define PASSWORD CONTACT_PASSWORD
#define ACCOUNT_SIZE (4 + SIZE(CONTACT_CLIENT_ID) + SIZE(CONTACT_PASSWORD))
#else
#define PASSWORD ""
#define ACCOUNT_SIZE 0
#endif

#define CONNECT_SIZE                                                                              \
  (CONTACT_HEAD_BYTES + 10 + 2 + SIZE(CONTACT_CLIENT_ID) + 2 + SIZE(CONTACT_TOPIC) + 2 +          \
   SIZE(CONTACT_WILL_WORD) + ACCOUNT_SIZE)
#define PUBLISH_SIZE (CONTACT_HEAD_BYTES + 2 + SIZE(CONTACT_TOPIC) + 2 + CONTACT_PAYLOAD_BYTES)

#if CONTACT_BROKER_COUNT > 1
const char *const contact_node_hosts[] = CONTACT_BROKER_HOSTS;
const uint16_t contact_node_ports[] = CONTACT_BROKER_PORTS;
#endif
#if CONTACT_BROKER_COUNT > 1 && !CONTACT_BROKER_TLS
#define OPEN_MILLISECONDS CONTACT_NODE_MILLISECONDS
#else
#define OPEN_MILLISECONDS CONTACT_OPEN_MILLISECONDS
#endif

/* Return code of CONNACK: the server is there but not ready. */
#define CONTACT_UNAVAILABLE 3

/* Answers of the broker that have come since they were asked for. */
enum { CONNACK_CAME = 1, PUBREC_CAME = 2, ACKNOWLEDGED = 4, PINGRESP_CAME = 8 };

/* One word on its way: said again, it is the same to the last byte. */
struct word {
  bool closed;
  bool again;
  uint16_t id;
  uint16_t millivolts;
  uint32_t join_milliseconds;
};

/* All that a contact holds from its start to its sleep. */
static struct {
  struct contact_report report;
  struct contact_network network;
  struct contact_reader reader;
  struct word word;
  bool joined;
  bool learned; /* the network was joined slowly, and may differ from what is kept */
  bool stale;   /* what is kept of the network led to nothing that speaks MQTT */
  uint8_t node; /* of the broker, the one to open */
  bool moved;   /* it is another than the kept one */
  uint8_t came;
  uint8_t bytes[LONGEST(CONNECT_SIZE, PUBLISH_SIZE)];
} here;

/* --- Time and volts --- */

/* What a wait may take: its own limit, within that of the whole opening. */
static uint32_t within(uint32_t limit) {
#if CONTACT_REPORTS_BOTH
  return limit;
#else
  const uint32_t passed = contact_port_milliseconds();
  const uint32_t left = passed < CONTACT_AWAKE_MILLISECONDS ? CONTACT_AWAKE_MILLISECONDS - passed : 0;
  return limit < left ? limit : left;
#endif
}

/* The port answers with the lowest since it was asked last: asked after each step, nothing under load is missed. */
static void look_at_volts(void) {
  const uint16_t millivolts = contact_port_millivolts();
  if (millivolts < here.report.lowest_millivolts) here.report.lowest_millivolts = millivolts;
}

/* --- The link --- */

static bool join_slowly(void) {
  memset(&here.network, 0, sizeof here.network);
  here.report.joined_fast = false;
  here.joined = contact_port_join_slow(&here.network, within(CONTACT_SLOW_JOIN_MILLISECONDS));
  here.learned = here.joined;
  look_at_volts();
  return here.joined;
}

static bool join(void) {
  if (!here.stale && contact_recall(&here.network)) {
    if (!here.moved) here.node = (uint8_t)(here.network.node % CONTACT_BROKER_COUNT);
    here.joined = contact_port_join_fast(&here.network, within(CONTACT_FAST_JOIN_MILLISECONDS));
    here.report.joined_fast = here.joined;
    look_at_volts();
    if (here.joined) return true;
  }
  return join_slowly();
}

/* After the word is out: it does not wait for the flash. */
static void keep_network(void) {
  if (here.learned) contact_keep(&here.network);
  here.learned = false;
}

static bool send_packet(struct contact_packet *packet, uint8_t first) {
  const size_t begin = contact_put_head(packet, first);
  const bool sent = begin < packet->room && contact_port_send(packet->bytes + begin, packet->length - begin,
                                                              within(CONTACT_ANSWER_MILLISECONDS));
  look_at_volts();
  return sent;
}

/* Takes one packet of the broker. False: the connection is of no more use. */
static bool take_packet(void) {
  const uint8_t first = here.reader.first;
  const uint8_t *const body = here.reader.body;
  /* The first answer is CONNACK (MQTT-3.2.0-1*), with no session present (MQTT-3.2.2-1*), and there is no second. */
  if ((first == CONTACT_CONNACK) == ((here.came & CONNACK_CAME) != 0)) return false;
  if (first == CONTACT_CONNACK) {
    if (body[0] != 0) return false;
    here.report.refusal = body[1];
    here.came |= CONNACK_CAME;
  } else if (first == CONTACT_PINGRESP) {
    here.came |= PINGRESP_CAME;
  } else if ((body[0] << 8 | body[1]) == here.word.id) {
    /* An acknowledgement names what it acknowledges (MQTT-2.3.1-6*); an older one comes too late. */
    if (first == (CONTACT_QOS == 2 ? CONTACT_PUBREC : CONTACT_PUBACK)) {
      here.came |= CONTACT_QOS == 2 ? PUBREC_CAME : ACKNOWLEDGED;
    } else if (CONTACT_QOS == 2 && first == CONTACT_PUBCOMP) {
      here.came |= ACKNOWLEDGED;
    }
  }
  return true;
}

/* Takes what has come, for at most so long. False: the connection is lost. */
static bool receive(uint32_t milliseconds) {
  uint8_t bytes[8];
  const int count = contact_port_receive(bytes, sizeof bytes, milliseconds);
  look_at_volts();
  if (count < 0) return false;
  for (int at = 0; at < count; at++) {
    const enum contact_read read = contact_read(&here.reader, bytes[at]);
    if (read == CONTACT_NONSENSE || (read == CONTACT_WHOLE && !take_packet())) return false;
  }
  return true;
}

static bool await(uint8_t wanted) {
  const uint32_t limit = within(CONTACT_ANSWER_MILLISECONDS);
  const uint32_t begun = contact_port_milliseconds();
  while (!(here.came & wanted)) {
    const uint32_t passed = contact_port_milliseconds() - begun;
    if (passed >= limit || !receive(limit - passed)) return false;
  }
  return true;
}

static bool connect_broker(void) {
  static const struct contact_identity who = {
    .client = CONTACT_CLIENT_ID,
    .topic = CONTACT_TOPIC,
    .will = CONTACT_WILL_WORD,
    .password = ACCOUNT_SIZE ? PASSWORD : NULL,
    .client_size = SIZE(CONTACT_CLIENT_ID),
    .topic_size = SIZE(CONTACT_TOPIC),
    .will_size = SIZE(CONTACT_WILL_WORD),
    .password_size = SIZE(PASSWORD),
    .keep_alive_seconds = CONTACT_KEEP_ALIVE_SECONDS,
    .will_qos = CONTACT_WILL_QOS,
  };
  struct contact_packet packet = {here.bytes, sizeof here.bytes, CONTACT_HEAD_BYTES};
  memset(&here.reader, 0, sizeof here.reader);
  here.came = 0;
  here.report.refusal = 0;
  contact_put_connect(&packet, &who);
  return send_packet(&packet, CONTACT_CONNECT) && await(CONNACK_CAME) && here.report.refusal == 0;
}

/* --- The nodes of the broker --- */

static void next_node(void) {
  if (CONTACT_BROKER_COUNT == 1) return;
  here.node = (uint8_t)((here.node + 1) % CONTACT_BROKER_COUNT);
  here.moved = true;
}

/* From the node that answered last: where one does not take the connection, the next, each once. */
static bool open_any(void) {
  for (uint8_t tried = 0; tried < CONTACT_BROKER_COUNT; tried++) {
    if (here.network.node != here.node) {
      here.network.node = here.node;
      memset(here.network.broker, 0, sizeof here.network.broker);
    }
    if (contact_port_open(&here.network, within(OPEN_MILLISECONDS))) return true;
    next_node();
  }
  here.network.node = here.node; /* round again: the first of this try, and none that failed last */
  return false;
}

/* From nothing to a connection. What was known of the network may be out of date although the join went through (a
 * new router, another address of the broker): then once more from the beginning.
 */
static enum contact_end reach(void) {
  if (here.report.tries < 255) here.report.tries++;
  if (!here.joined && !join()) return CONTACT_NOT_JOINED;
  if (!open_any()) {
    if (!here.report.joined_fast) return CONTACT_NOT_REACHED;
    if (!join_slowly()) return CONTACT_NOT_JOINED;
    if (!open_any()) return CONTACT_NOT_REACHED;
  }
  if (connect_broker()) {
    if (here.moved) here.learned = true;
    here.moved = false;
    return CONTACT_ACKNOWLEDGED;
  }
  if (here.report.refusal && !(CONTACT_BROKER_COUNT > 1 && here.report.refusal == CONTACT_UNAVAILABLE))
    return CONTACT_REFUSED;
  /* Another node is looked up anew. The kept address of a single one may have become another machine's: the next try
   * asks the network.
   */
  if (CONTACT_BROKER_COUNT > 1) next_node();
  else if (here.report.joined_fast) here.stale = true, here.joined = false;
  return CONTACT_NOT_REACHED;
}

/* --- The word --- */

/* A new message: an id that is not 0 (MQTT-2.3.1-1*), and the figures of now. */
static void new_word(bool closed, uint32_t since) {
  const uint16_t id = (uint16_t)(here.word.id == 0xffff ? 1 : here.word.id + 1);
  look_at_volts();
  here.report.join_milliseconds = contact_port_milliseconds() - since;
  here.word = (struct word){closed, false, id, here.report.lowest_millivolts, here.report.join_milliseconds};
}

/* Publishes the word and waits until the broker has taken it over. Said again, it carries DUP and its old id, as a
 * message that was not acknowledged is sent again on a new connection (MQTT-4.4.0-1).
 */
static bool say(void) {
  struct contact_packet packet = {here.bytes, sizeof here.bytes, CONTACT_HEAD_BYTES};
  const uint8_t first = contact_publish_head(CONTACT_QOS, CONTACT_RETAIN, here.word.again);
  here.word.again = true;
  here.came = CONNACK_CAME;
  contact_put_text(&packet, CONTACT_TOPIC, SIZE(CONTACT_TOPIC));
  if (CONTACT_QOS > 0) contact_put_number(&packet, here.word.id);
  contact_put_payload(&packet, here.word.closed, here.report.boots, here.word.millivolts, here.word.join_milliseconds);
  if (!send_packet(&packet, first)) return false;
  if (CONTACT_QOS == 2) {
    if (!await(PUBREC_CAME)) return false;
    packet.length = CONTACT_HEAD_BYTES;
    contact_put_number(&packet, here.word.id);
    if (!send_packet(&packet, CONTACT_PUBREL)) return false;
  }
  return CONTACT_QOS == 0 || await(ACKNOWLEDGED);
}

/* --- The two kinds of contact --- */

static void begin(void) {
  memset(&here, 0, sizeof here);
  here.report.rested_millivolts = here.report.lowest_millivolts = contact_port_millivolts();
}

#if CONTACT_REPORTS_BOTH

#include "contact_edges.h"

#else

#ifndef CONTACT_REPEAT_SECONDS
#define CONTACT_REPEAT_SECONDS 0
#endif

static enum contact_end try_once(uint32_t since) {
  const enum contact_end reached = reach();
  if (reached != CONTACT_ACKNOWLEDGED) return reached;
  if (here.word.id == 0) new_word(false, since);
  return say() ? CONTACT_ACKNOWLEDGED : CONTACT_NOT_ACKNOWLEDGED;
}

/* One opening. A refusal ends in sleep at once: asked again, the broker would say the same, and the cell is spent. */
static enum contact_end say_opening(uint32_t since) {
  for (;;) {
    const enum contact_end end = try_once(since);
    if (end != CONTACT_NOT_REACHED && end != CONTACT_NOT_ACKNOWLEDGED) return end;
    if (here.report.tries >= CONTACT_TRIES || within(1) == 0) return end;
    if (end == CONTACT_NOT_ACKNOWLEDGED) next_node();
    contact_port_close();
    contact_port_wait(within(CONTACT_PAUSE_MILLISECONDS));
  }
}

void contact_run(void) {
  uint8_t brown_outs;
  begin();
  brown_outs = contact_count_start(CONTACT_PAYLOAD_HAS_BOOTS, &here.report.boots);
  if (brown_outs > CONTACT_BROWN_OUTS) {
    here.report.end = CONTACT_STARVED;
  } else {
    if (brown_outs > 0) contact_port_wait(CONTACT_REST_MILLISECONDS);
    here.report.end = say_opening(brown_outs > 0 ? contact_port_milliseconds() : 0);
    if (here.report.end == CONTACT_ACKNOWLEDGED)
      here.report.acknowledged_milliseconds = contact_port_milliseconds();
    look_at_volts();
    keep_network();
  }
  /* The socket stays open: only silence brings the last will (MQTT-3.1.2-24). */
  contact_port_sleep(&here.report, CONTACT_REPEAT_SECONDS);
}

#endif
