/* The packets of MQTT 3.1.1 (OASIS Standard, 29 October 2014) that a contact speaks: bytes to bytes, no I/O.
 * The numbers are the statements of that text that a line rests on; those with an asterisk are from memory.
 */
#ifndef CONTACT_PACKETS_H
#define CONTACT_PACKETS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* First bytes of the fixed header, section 2.2. Flags are given where they are not 0 (MQTT-2.2.2-1*). */
enum {
  CONTACT_CONNECT = 0x10,
  CONTACT_CONNACK = 0x20,
  CONTACT_PUBLISH = 0x30,
  CONTACT_PUBACK = 0x40,
  CONTACT_PUBREC = 0x50,
  CONTACT_PUBREL = 0x62, /* MQTT-3.6.1-1* */
  CONTACT_PUBCOMP = 0x70,
  CONTACT_PINGREQ = 0xc0,
  CONTACT_PINGRESP = 0xd0
};

/* A fixed header is its first byte and 1 to 4 bytes of length, section 2.2.3. */
#define CONTACT_HEAD_BYTES 5

/* A packet in the making: its body begins at CONTACT_HEAD_BYTES, so that the head can be put before it. */
struct contact_packet {
  uint8_t *bytes;
  size_t room;
  size_t length; /* of head and body; above room: it did not fit */
};

static inline void contact_put(struct contact_packet *packet, uint8_t byte) {
  if (packet->length < packet->room) packet->bytes[packet->length] = byte;
  packet->length++;
}

static inline void contact_put_bytes(struct contact_packet *packet, const char *bytes, size_t size) {
  for (size_t at = 0; at < size; at++) contact_put(packet, (uint8_t)bytes[at]);
}

static inline void contact_put_number(struct contact_packet *packet, uint16_t number) {
  contact_put(packet, (uint8_t)(number >> 8));
  contact_put(packet, (uint8_t)(number & 0xff));
}

/* Two bytes of length, then UTF-8, section 1.5.3. */
static inline void contact_put_text(struct contact_packet *packet, const char *text, size_t size) {
  contact_put_number(packet, (uint16_t)size);
  contact_put_bytes(packet, text, size);
}

/* Puts the fixed header before the body. Returns where the packet begins in its bytes, or the room when it did not
 * fit: then nothing may be sent.
 */
static inline size_t contact_put_head(struct contact_packet *packet, uint8_t first) {
  size_t rest = packet->length - CONTACT_HEAD_BYTES;
  uint8_t head[CONTACT_HEAD_BYTES];
  size_t size = 0;
  if (packet->length > packet->room) return packet->room;
  head[size++] = first;
  do {
    const uint8_t seven = (uint8_t)(rest & 0x7f);
    rest >>= 7;
    head[size++] = (uint8_t)(rest > 0 ? seven | 0x80 : seven);
  } while (rest > 0 && size < CONTACT_HEAD_BYTES);
  for (size_t at = 0; at < size; at++) packet->bytes[CONTACT_HEAD_BYTES - size + at] = head[at];
  return CONTACT_HEAD_BYTES - size;
}

/* Who connects and what is left behind. */
struct contact_identity {
  const char *client; /* MQTT-3.1.3-5 */
  const char *topic;
  const char *will;
  const char *password; /* NULL: the broker asks for none; the user name is the client id */
  size_t client_size, topic_size, will_size, password_size;
  uint16_t keep_alive_seconds; /* the broker waits 1.5 times as long, MQTT-3.1.2-24 */
  uint8_t will_qos;
};

/* CONNECT with a last will that is always retained (MQTT-3.1.2-17). The broker publishes it when the connection ends
 * without DISCONNECT (MQTT-3.1.2-8): a contact never sends one. The session is clean (MQTT-3.1.2-6*): it lives no
 * longer than the power does, and nothing that an earlier opening left half done can stand in its way.
 */
static inline void contact_put_connect(struct contact_packet *packet, const struct contact_identity *who) {
  const uint8_t account = who->password ? 0xc0 : 0; /* both or neither, MQTT-3.1.2-22* */
  contact_put_text(packet, "MQTT", 4);              /* MQTT-3.1.2-1* */
  contact_put(packet, 4);                           /* level of 3.1.1, MQTT-3.1.2-2* */
  contact_put(packet, (uint8_t)(account | 0x20 | (who->will_qos << 3) | 0x04 | 0x02));
  contact_put_number(packet, who->keep_alive_seconds);
  /* In this order, MQTT-3.1.3-1*. */
  contact_put_text(packet, who->client, who->client_size);
  contact_put_text(packet, who->topic, who->topic_size);
  contact_put_text(packet, who->will, who->will_size);
  if (!who->password) return;
  contact_put_text(packet, who->client, who->client_size);
  contact_put_text(packet, who->password, who->password_size);
}

/* First byte of PUBLISH. DUP says that this may be the second attempt to send one message (MQTT-3.3.1-1*), and is
 * never set at QoS 0 (MQTT-3.3.1-2*).
 */
static inline uint8_t contact_publish_head(uint8_t qos, bool retain, bool again) {
  return (uint8_t)(CONTACT_PUBLISH | (again && qos > 0 ? 0x08 : 0) | (qos << 1) | (retain ? 0x01 : 0));
}

/* Reads what a broker sends to a client that never subscribes: five kinds of packets, each with a known length.
 * All else is a violation, after which the connection is closed (MQTT-4.8.0-1*).
 */
struct contact_reader {
  uint8_t first;
  uint8_t seen; /* bytes of this packet so far */
  uint8_t body[2];
};

enum contact_read { CONTACT_MORE, CONTACT_WHOLE, CONTACT_NONSENSE };

/* Takes the next byte. After CONTACT_WHOLE `first` and `body` hold the packet until the next byte comes. */
static inline enum contact_read contact_read(struct contact_reader *reader, uint8_t byte) {
  const uint8_t at = reader->seen++;
  if (at == 0) {
    reader->first = byte;
    switch (byte) {
      case CONTACT_CONNACK:
      case CONTACT_PUBACK:
      case CONTACT_PUBREC:
      case CONTACT_PUBCOMP:
      case CONTACT_PINGRESP:
        return CONTACT_MORE;
      default:
        reader->seen = 0;
        return CONTACT_NONSENSE;
    }
  }
  if (at == 1) {
    const uint8_t length = reader->first == CONTACT_PINGRESP ? 0 : 2;
    if (byte == length && length > 0) return CONTACT_MORE;
    reader->seen = 0;
    return byte == length ? CONTACT_WHOLE : CONTACT_NONSENSE;
  }
  reader->body[at - 2] = byte;
  if (at == 2) return CONTACT_MORE;
  reader->seen = 0;
  /* Only the lowest bit of CONNACK's flags has a meaning, section 3.2.2.1. */
  return reader->first == CONTACT_CONNACK && reader->body[0] > 1 ? CONTACT_NONSENSE : CONTACT_WHOLE;
}

#endif
