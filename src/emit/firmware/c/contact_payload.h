/* What a word looks like on the wire: the word alone, or JSON with figures beside it. Part of contact.c, after
 * CONTACT_HEADER.
 */
#ifndef CONTACT_PAYLOAD_H
#define CONTACT_PAYLOAD_H

#include "contact_packets.h"

#ifndef CONTACT_WORD_CLOSED
#define CONTACT_WORD_CLOSED CONTACT_WORD_OPENED
#endif
#define CONTACT_LONGER(a, b) (sizeof(a) > sizeof(b) ? sizeof(a) - 1 : sizeof(b) - 1)

#if CONTACT_PAYLOAD_JSON

#ifndef CONTACT_PAYLOAD_CLOSED_FORMAT
#define CONTACT_PAYLOAD_CLOSED_FORMAT CONTACT_PAYLOAD_OPENED_FORMAT
#endif
/* With three figures of at most ten digits each. */
#define CONTACT_PAYLOAD_BYTES (30 + CONTACT_LONGER(CONTACT_PAYLOAD_OPENED_FORMAT, CONTACT_PAYLOAD_CLOSED_FORMAT))

static void contact_put_digits(struct contact_packet *packet, unsigned long number) {
  char digits[10];
  size_t at = sizeof digits;
  do {
    digits[--at] = (char)('0' + number % 10);
    number /= 10;
  } while (number > 0 && at > 0);
  contact_put_bytes(packet, digits + at, sizeof digits - at);
}

/* As snprintf would, for the three conversions that a header has (%lu, %u, %%): snprintf alone needs more RAM than all
 * the rest.
 */
static void contact_put_format(struct contact_packet *packet, const char *format, const unsigned long *figures) {
  for (; *format; format++) {
    if (*format != '%') contact_put(packet, (uint8_t)*format);
    else if (*++format == '%') contact_put(packet, '%');
    else {
      if (*format == 'l') format++;
      contact_put_digits(packet, *++figures);
    }
  }
}

static void contact_put_payload(struct contact_packet *packet, bool closed, unsigned long boots,
                                unsigned long millivolts, unsigned long join_milliseconds) {
  const unsigned long figures[] = {0 CONTACT_PAYLOAD_FIGURES};
  (void)boots, (void)millivolts, (void)join_milliseconds;
  contact_put_format(packet, closed ? CONTACT_PAYLOAD_CLOSED_FORMAT : CONTACT_PAYLOAD_OPENED_FORMAT, figures);
}

#else

#define CONTACT_PAYLOAD_HAS_BOOTS 0
#define CONTACT_PAYLOAD_BYTES CONTACT_LONGER(CONTACT_WORD_OPENED, CONTACT_WORD_CLOSED)

static void contact_put_payload(struct contact_packet *packet, bool closed, unsigned long boots,
                                unsigned long millivolts, unsigned long join_milliseconds) {
  (void)boots, (void)millivolts, (void)join_milliseconds;
  if (closed) contact_put_bytes(packet, CONTACT_WORD_CLOSED, sizeof(CONTACT_WORD_CLOSED) - 1);
  else contact_put_bytes(packet, CONTACT_WORD_OPENED, sizeof(CONTACT_WORD_OPENED) - 1);
}

#endif

#endif
