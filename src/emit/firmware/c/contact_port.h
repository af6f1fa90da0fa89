/* What a module must be able to do for a contact. Written once for each kind of module; contact_skeleton.c says of
 * each function what it must do, how long it may take and what it costs the cell. No function is called from an
 * interrupt, none calls back.
 */
#ifndef CONTACT_PORT_H
#define CONTACT_PORT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "contact.h"

/* Why the program runs. */
enum contact_start { CONTACT_POWERED, CONTACT_BROWNED_OUT, CONTACT_WOKEN };

/* A network as it was joined last: what a fast join needs. Bytes that are all 0 are not known. */
struct contact_network {
  uint8_t channel;
  uint8_t access_point[6];
  uint8_t address[4];
  uint8_t gateway[4];
  uint8_t netmask[4];
  uint8_t broker[4]; /* the address that the broker's name was found to have */
  uint8_t node;      /* which node of the broker answered last, 0: the first; the port leaves it as it is */
};

/* Where a port opens the way to: a broker may have several nodes. */
#ifdef CONTACT_BROKER_COUNT
extern const char *const contact_node_hosts[CONTACT_BROKER_COUNT];
extern const uint16_t contact_node_ports[CONTACT_BROKER_COUNT];
#define CONTACT_NODE_HOST(network) contact_node_hosts[(network)->node]
#define CONTACT_NODE_PORT(network) contact_node_ports[(network)->node]
#else
#define CONTACT_BROKER_COUNT 1
#define CONTACT_NODE_HOST(network) CONTACT_BROKER_HOST
#define CONTACT_NODE_PORT(network) CONTACT_BROKER_PORT
#endif

/* Two things that outlive the loss of power, each at most CONTACT_SLOT_BYTES long. */
enum contact_slot { CONTACT_SLOT_BOOTS, CONTACT_SLOT_NETWORK };
#define CONTACT_SLOT_BYTES 40

/* Where a window is, for a contact that reports both edges. */
enum contact_edge { CONTACT_NO_EDGE, CONTACT_OPENED, CONTACT_CLOSED };

enum contact_start contact_port_start(void);
uint32_t contact_port_milliseconds(void);
uint16_t contact_port_millivolts(void);

size_t contact_port_load(enum contact_slot slot, uint8_t *bytes, size_t size);
void contact_port_save(enum contact_slot slot, const uint8_t *bytes, size_t size);

bool contact_port_join_fast(const struct contact_network *known, uint32_t within);
bool contact_port_join_slow(struct contact_network *learned, uint32_t within);

/* The way to the broker of the header. TLS (CONTACT_BROKER_TLS) is the port's affair: contact.c hands over and takes
 * plain MQTT.
 */
bool contact_port_open(struct contact_network *network, uint32_t within);
bool contact_port_send(const uint8_t *bytes, size_t size, uint32_t within);
int contact_port_receive(uint8_t *bytes, size_t size, uint32_t within);
void contact_port_close(void);

enum contact_edge contact_port_edge(void);
void contact_port_wait(uint32_t milliseconds);
void contact_port_sleep(const struct contact_report *report, uint32_t seconds);

#endif
