/* A port to write your own from: copy this file under another name, for this one is made anew each time.
 *
 * For each function: what it must do, how long it may take, what it costs the cell. Costs are worked out from the
 * budget's assumptions (75 mA with the radio on, 25 mA without; a coin cell gives 20 openings of 4 s at 75 mA, which
 * are 300 mC each): 1 s of radio is a quarter of such an opening. Awake time is what a cell is spent on, so:
 *   - clock the module no faster than the join needs, log nothing over a serial line, light no lamp;
 *   - call contact_run() first of all, before drivers that a contact does not need are started.
 */
#include CONTACT_HEADER

#include "contact_port.h"

#ifndef CONTACT_WIFI_NAME
#error "No network: give wifi: { name: ... } in the register, or PRIVATE_WIFI_NAME in private.h"
#endif
#ifndef PRIVATE_WIFI_PASSWORD
#error "private.h: PRIVATE_WIFI_PASSWORD is still empty; an open network has \"\""
#endif
#if !defined(CONTACT_PASSWORD) && !defined(PRIVATE_BROKER_IS_OPEN)
#error "private.h: this contact has no password yet (emit access --private); a broker without accounts: PRIVATE_BROKER_IS_OPEN"
#endif
#ifndef CONTACT_BROKER_HOST
#error "No broker: give broker: { mqtt: ... } in the register, or CONTACT_BROKER_HOST, _PORT and _TLS in private.h"
#endif

/* Why the program runs, from the module's reset reason. CONTACT_BROWNED_OUT only when the supply fell too low while it
 * ran: after a few of these in a row the contact gives up until power comes anew. A reset that is none of the three is
 * CONTACT_POWERED. Time: none. Cost: none.
 */
enum contact_start contact_port_start(void) { return CONTACT_POWERED; }

/* Milliseconds since power came, or since the timer woke the module. Where the module's own boot is not in its
 * counter, add what you measured of it once, from the power to this point: the time that is told is then the person's.
 * It never runs back; it may wrap after 49 days. Time: none. Cost: none.
 */
uint32_t contact_port_milliseconds(void) { return 0; }

/* The lowest supply since this was called last, in millivolts; 0 when the module cannot tell. Best measured behind
 * the program's back, every millisecond or two while the radio sends, and only handed out here: at the end of a burst
 * is where a tired cell shows. A module that cannot do so measures now. Measure the supply itself, not a divider that
 * draws current the whole year. Time: under 1 ms. Cost: none to speak of.
 */
uint16_t contact_port_millivolts(void) { return 0; }

/* Hands out what was saved in a slot, at most `size` bytes; returns how many, 0 when nothing was. Memory that lives
 * through deep sleep only does not do: here the power goes. What flash holds when new, or torn by a loss of power, may
 * be handed out as it is: the program checks it. Time: under 5 ms. Cost: none to speak of.
 */
size_t contact_port_load(enum contact_slot slot, uint8_t *bytes, size_t size) {
  (void)slot, (void)bytes, (void)size;
  return 0;
}

/* Saves a slot so that it outlives the loss of power, at most CONTACT_SLOT_BYTES. It is called once a start when the
 * payload carries a boot count, and once when the network was learned anew; spread the writes over the sector when the
 * flash bears few (10,000 erasures are 27 years at one a day). Time: some 50 ms for an erasure (common practice).
 * Cost: 1 mC; a voltage under the flash's own least must not start an erasure.
 */
void contact_port_save(enum contact_slot slot, const uint8_t *bytes, size_t size) {
  (void)slot, (void)bytes, (void)size;
}

/* Joins CONTACT_WIFI_NAME with what is known: no scan where channel and access point are known, no request for an
 * address where address, gateway and netmask are. A part that is all 0 is not known and must be found out. An address
 * that was lent is used without asking again: keep it for this module in the router's settings, or do not keep it in
 * contact_port_join_slow. Returns as soon as the network can be used, and at the latest after `within` milliseconds;
 * then everything is left so that a slow join can follow. Called when the module is joined already, it returns true at
 * once. Time: about 170 ms. Cost: 13 mC.
 */
bool contact_port_join_fast(const struct contact_network *known, uint32_t within) {
  (void)known, (void)within;
  return false;
}

/* Joins CONTACT_WIFI_NAME from nothing: scan, choose the strongest access point, ask for an address. Puts into
 * `learned` what a fast join will need; what stays 0 is asked for again next time. Time: about 4 s, at the latest
 * `within`. Cost: 300 mC: a whole opening of a coin cell's twenty.
 */
bool contact_port_join_slow(struct contact_network *learned, uint32_t within) {
  (void)learned, (void)within;
  return false;
}

/* Opens the way to CONTACT_NODE_HOST(network), CONTACT_NODE_PORT(network): TCP, without waiting to gather small packets (no Nagle).
 * Where network->broker is known no name is looked up; where it is not, the address that was found may be put there.
 * With CONTACT_BROKER_TLS the whole handshake is done here, with a check of the certificate, and a ticket for the next
 * time may be kept in a slot of your own. Returns at the latest after `within`. Time: one way there and back, 5 to
 * 50 ms; a TLS handshake 0.5 to 2 s. Cost: 1 to 4 mC; with TLS 40 to 150 mC.
 */
bool contact_port_open(struct contact_network *network, uint32_t within) {
  (void)network, (void)within;
  return false;
}

/* Sends all bytes in one piece, and returns when the network has taken them: at QoS 0, where no answer is awaited,
 * only when they were acknowledged by TCP, or the sleep comes before the word. False: they were not taken within the
 * time, or the connection is lost. Time: under 1 ms, at QoS 0 as long as one way there and back. Cost: the burst.
 */
bool contact_port_send(const uint8_t *bytes, size_t size, uint32_t within) {
  (void)bytes, (void)size, (void)within;
  return false;
}

/* Waits for bytes of the broker, at most `within` (0: does not wait). Returns how many were put down, 0 when the time is
 * over, -1 when the connection is closed or lost. Time: as long as the broker takes. Cost: the receiver, 75 mC a
 * second; a module that may doze between beacons while it waits draws a third.
 */
int contact_port_receive(uint8_t *bytes, size_t size, uint32_t within) {
  (void)bytes, (void)size, (void)within;
  return -1;
}

/* Gives the connection up, without a packet of MQTT. Called before another try, and with both edges after a lost link;
 * never before the sleep of a contact that was heard. Time: none. Cost: none.
 */
void contact_port_close(void) {}

/* Both edges only: the next edge that was not told yet, in order; CONTACT_NO_EDGE when there is none. The first call
 * after a start tells where the window is now. An interrupt puts edges into a short queue (eight are plenty; when it is
 * full the last place is written over), and only after the reed has been still for 20 ms: it bounces. Time: none.
 */
enum contact_edge contact_port_edge(void) { return CONTACT_NO_EDGE; }

/* Waits so many milliseconds with as little current as can be. With both edges it ends early when an edge has come or
 * the connection has something to be received or is lost. Time: as asked. Cost: what the module draws asleep.
 */
void contact_port_wait(uint32_t milliseconds) { (void)milliseconds; }

/* Deep sleep for so many seconds, 0: for as long as there is power. The radio is cut off without a word: no DISCONNECT,
 * no FIN, or the broker would drop the last will or publish it at once. `report` is for a lamp that blinks once or a
 * line of text while you try the module out; take it off before the cell goes in. It does not return on most modules:
 * the timer starts the program anew. Time: under 5 ms. Cost: 5 uA, which are 18 mC an hour of open window; a
 * lamp that was left on at 3 mA empties a coin cell in three days.
 */
void contact_port_sleep(const struct contact_report *report, uint32_t seconds) { (void)report, (void)seconds; }
