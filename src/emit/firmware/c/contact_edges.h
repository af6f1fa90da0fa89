/* The course of a contact that reports both edges: it stays connected, says each edge, and comes back after a lost link.
 * The last part of contact.c where the header says so.
 */
#ifndef CONTACT_EDGES_H
#define CONTACT_EDGES_H

static enum contact_edge window = CONTACT_NO_EDGE; /* as it was last */

/* Waits with the link down; of the edges meanwhile the last is said. */
static void pause_for(uint32_t milliseconds) {
  const uint32_t begun = contact_port_milliseconds();
  uint32_t passed;
  while ((passed = contact_port_milliseconds() - begun) < milliseconds) {
    const enum contact_edge edge = contact_port_edge();
    if (edge != CONTACT_NO_EDGE) window = edge;
    else contact_port_wait(milliseconds - passed);
  }
}

/* Says where the window is. False: the broker did not take it over. */
static bool say_edge(uint32_t since, bool is_news) {
  if (is_news || !here.word.again || here.word.closed != (window == CONTACT_CLOSED))
    new_word(window == CONTACT_CLOSED, since);
  if (!say()) return false;
  here.word.again = false;
  here.report.lowest_millivolts = contact_port_millivolts();
  return true;
}

/* With the link up: each edge as it comes, a ping when nothing was sent for three quarters of the keep-alive
 * (MQTT-3.1.2-23*). Returns when the link is lost.
 */
static void stay_connected(uint32_t since) {
  const uint32_t quiet = CONTACT_KEEP_ALIVE_SECONDS * UINT32_C(750);
  uint32_t sent = contact_port_milliseconds();
  if (window == CONTACT_NO_EDGE) window = contact_port_edge();
  if (window != CONTACT_NO_EDGE && !say_edge(since, false)) return;
  for (;;) {
    const enum contact_edge edge = contact_port_edge();
    const uint32_t now = contact_port_milliseconds();
    if (edge != CONTACT_NO_EDGE) {
      window = edge;
      if (!say_edge(now, true)) return;
      sent = now;
    } else if (now - sent >= quiet) {
      struct contact_packet ping = {here.bytes, sizeof here.bytes, CONTACT_HEAD_BYTES};
      here.came &= (uint8_t)~PINGRESP_CAME;
      if (!send_packet(&ping, CONTACT_PINGREQ) || !await(PINGRESP_CAME)) return;
      sent = now;
    } else {
      contact_port_wait(quiet - (now - sent));
      if (!receive(0)) return;
    }
  }
}

void contact_run(void) {
  uint32_t pause = CONTACT_PAUSE_MILLISECONDS;
  begin();
  if (contact_count_start(CONTACT_PAYLOAD_HAS_BOOTS, &here.report.boots) > CONTACT_BROWN_OUTS)
    pause_for(CONTACT_LONGEST_PAUSE_MILLISECONDS);
  for (;;) {
    const uint32_t since = contact_port_milliseconds();
    here.report.end = reach();
    if (here.report.end == CONTACT_ACKNOWLEDGED) {
      keep_network();
      stay_connected(since);
      /* A link that did not outlive its keep-alive may be a quarrel of two contacts about one client id, in which
       * each throws the other off: the pauses grow.
       */
      if (contact_port_milliseconds() - since > CONTACT_KEEP_ALIVE_SECONDS * UINT32_C(1500))
        pause = CONTACT_PAUSE_MILLISECONDS;
    }
    contact_port_close();
    here.joined = false;
    if (here.report.end == CONTACT_REFUSED) pause = CONTACT_LONGEST_PAUSE_MILLISECONDS;
    pause_for(pause);
    pause = pause < CONTACT_LONGEST_PAUSE_MILLISECONDS / 2 ? pause * 2 : CONTACT_LONGEST_PAUSE_MILLISECONDS;
  }
}

#endif
