/* A window contact in portable C99: no heap, no vendor's framework; what a module can do stands in contact_port.h.
 * A module's own start calls contact_run() and nothing else.
 */
#ifndef CONTACT_H
#define CONTACT_H

#include <stdbool.h>
#include <stdint.h>

/* Longest waits, milliseconds. Each may be given to the compiler instead (-DCONTACT_ANSWER_MILLISECONDS=4000): for a
 * module that needs more, or a cell that can give less. Awake, a module draws some 75 mA: 4 s are about one opening of
 * a coin cell's twenty (common practice).
 */
/* A join with channel, access point and address known takes 0.2 s; then the slow join is tried. */
#ifndef CONTACT_FAST_JOIN_MILLISECONDS
#define CONTACT_FAST_JOIN_MILLISECONDS 800
#endif
/* Scan, join, ask for an address: about 4 s. */
#ifndef CONTACT_SLOW_JOIN_MILLISECONDS
#define CONTACT_SLOW_JOIN_MILLISECONDS 9000
#endif
/* Until the broker takes the connection; over 1 s, so that one lost packet is sent again. */
#ifndef CONTACT_OPEN_MILLISECONDS
#define CONTACT_OPEN_MILLISECONDS 2500
#endif
/* Until a node takes the connection where the broker has several: over 1 s as well (RFC 6298, section 2.1), and no
 * more, since the next node may answer at once. A node whose machine is gone costs a cell this once, 0.3 of an opening
 * (1.2 s of 75 mA are 90 mC, an opening 300 mC); one that refuses the connection costs 1 to 4 mC. With TLS the longer
 * wait above holds.
 */
#ifndef CONTACT_NODE_MILLISECONDS
#define CONTACT_NODE_MILLISECONDS 1200
#endif
/* Until the broker answers one packet. */
#ifndef CONTACT_ANSWER_MILLISECONDS
#define CONTACT_ANSWER_MILLISECONDS 2500
#endif
/* All of one opening, whatever happens: no wait goes beyond. */
#ifndef CONTACT_AWAKE_MILLISECONDS
#define CONTACT_AWAKE_MILLISECONDS 16000
#endif
/* Connections in which one word is tried. */
#ifndef CONTACT_TRIES
#define CONTACT_TRIES 2
#endif
/* Starts after a brown-out, one after the other, before the contact gives up until power comes anew: the radio that
 * dropped the supply would only drop it again. Before each the cell rests.
 */
#ifndef CONTACT_BROWN_OUTS
#define CONTACT_BROWN_OUTS 2
#endif
#ifndef CONTACT_REST_MILLISECONDS
#define CONTACT_REST_MILLISECONDS 2000
#endif
/* The pause before a word is tried once more, so that a broker can come back. With both edges, where a lost link is
 * made again for ever, twice as long each time, up to the longest, which also follows a refusal.
 */
#ifndef CONTACT_PAUSE_MILLISECONDS
#define CONTACT_PAUSE_MILLISECONDS 1000
#endif
#ifndef CONTACT_LONGEST_PAUSE_MILLISECONDS
#define CONTACT_LONGEST_PAUSE_MILLISECONDS 300000
#endif

/* What became of a word. */
enum contact_end {
  CONTACT_ACKNOWLEDGED,     /* the broker has it; at QoS 0: it was sent */
  CONTACT_NOT_JOINED,       /* no network, fast or slow */
  CONTACT_NOT_REACHED,      /* no connection, or no answer to CONNECT */
  CONTACT_REFUSED,          /* the broker says no: account, password, client id */
  CONTACT_NOT_ACKNOWLEDGED, /* sent, and perhaps heard */
  CONTACT_STARVED           /* brown-outs, one after the other */
};

/* What one start measured; for a lamp or a line of text, see contact_port_sleep. */
struct contact_report {
  enum contact_end end;
  uint8_t refusal;           /* return code of CONNACK, 0: not refused */
  bool joined_fast;          /* with what was known of the network */
  uint8_t tries;             /* connections that were opened */
  uint16_t rested_millivolts; /* at the start, before the radio; 0: the port cannot tell */
  uint16_t lowest_millivolts; /* from the start to the acknowledgement */
  uint32_t boots;            /* 0: not counted */
  uint32_t join_milliseconds; /* from the start until the word was ready to be sent */
  uint32_t acknowledged_milliseconds; /* from the start to the acknowledgement; 0: none */
};

/* Runs the contact whose header was compiled in, from a start to its sleep. With openings only it returns after
 * contact_port_sleep where that returns; with both edges it never returns.
 */
void contact_run(void);

#endif
