/* What a contact keeps through the loss of power: its count of starts, and the network as it was joined last. Part of
 * contact.c, after CONTACT_HEADER.
 */
#ifndef CONTACT_KEPT_H
#define CONTACT_KEPT_H

#include "contact_port.h"

#include <string.h>

/* A record is its bytes and a CRC-16 (polynomial 0x1021, first value 0xffff): flash that was never written, or was
 * cut off while it was, is not taken for a record.
 */
static uint16_t contact_crc(const uint8_t *bytes, size_t size) {
  uint16_t crc = 0xffff;
  for (size_t at = 0; at < size; at++) {
    crc ^= (uint16_t)(bytes[at] << 8);
    for (int bit = 0; bit < 8; bit++) crc = (uint16_t)(crc & 0x8000 ? (crc << 1) ^ 0x1021 : crc << 1);
  }
  return crc;
}

static bool contact_load(enum contact_slot slot, void *record, size_t size) {
  uint8_t bytes[CONTACT_SLOT_BYTES];
  if (contact_port_load(slot, bytes, size + 2) != size + 2) return false;
  if (contact_crc(bytes, size) != (uint16_t)(bytes[size] << 8 | bytes[size + 1])) return false;
  memcpy(record, bytes, size);
  return true;
}

static void contact_save(enum contact_slot slot, const void *record, size_t size) {
  uint8_t bytes[CONTACT_SLOT_BYTES];
  uint16_t crc;
  memcpy(bytes, record, size);
  crc = contact_crc(bytes, size);
  bytes[size] = (uint8_t)(crc >> 8);
  bytes[size + 1] = (uint8_t)(crc & 0xff);
  contact_port_save(slot, bytes, size + 2);
}

/* Counts this start, before anything can drop the cell. Where no payload carries the count nothing is written, save
 * after a brown-out.
 * boots: set to the count, 0 where none is kept. Returns how many brown-outs have come one after the other.
 */
static uint8_t contact_count_start(bool counts_boots, uint32_t *boots) {
  uint8_t record[5] = {0}; /* four bytes of boots, one of brown-outs */
  uint8_t brown_outs = 0;
  bool is_changed = counts_boots;
  (void)contact_load(CONTACT_SLOT_BOOTS, record, sizeof record);
  if (contact_port_start() == CONTACT_BROWNED_OUT) brown_outs = (uint8_t)(record[4] < UINT8_MAX ? record[4] + 1 : UINT8_MAX);
  if (brown_outs != record[4]) is_changed = true;
  record[4] = brown_outs;
  if (counts_boots) {
    for (size_t at = 4; at > 0 && ++record[at - 1] == 0; at--) continue;
  }
  *boots = (uint32_t)record[0] << 24 | (uint32_t)record[1] << 16 | (uint32_t)record[2] << 8 | record[3];
  if (is_changed) contact_save(CONTACT_SLOT_BOOTS, record, sizeof record);
  return brown_outs;
}

/* A network belongs to the header under which it was learned: a module that is flashed anew learns anew. */
struct contact_kept_network {
  uint8_t revision[8];
  struct contact_network network;
};

/* What is known of the network: what was learned, else what the register says. False: nothing. */
static bool contact_recall(struct contact_network *network) {
  static const struct contact_network nothing = {0};
  struct contact_kept_network kept;
  if (contact_load(CONTACT_SLOT_NETWORK, &kept, sizeof kept) &&
      memcmp(kept.revision, CONTACT_REVISION, sizeof kept.revision) == 0) {
    *network = kept.network;
  } else {
    static const struct contact_network given = {
#ifdef CONTACT_WIFI_CHANNEL
      .channel = CONTACT_WIFI_CHANNEL,
#endif
#ifdef CONTACT_WIFI_BSSID
      .access_point = CONTACT_WIFI_BSSID,
#endif
#ifdef CONTACT_WIFI_ADDRESS_BYTES
      .address = CONTACT_WIFI_ADDRESS_BYTES,
#endif
      .broker = {0}};
    *network = given;
  }
  return memcmp(network, &nothing, sizeof nothing) != 0;
}

/* Keeps what was learned. Written only where it differs: a write costs the cell, and flash wears. */
static void contact_keep(const struct contact_network *learned) {
  struct contact_kept_network fresh, kept;
  memcpy(fresh.revision, CONTACT_REVISION, sizeof fresh.revision);
  fresh.network = *learned;
  if (contact_load(CONTACT_SLOT_NETWORK, &kept, sizeof kept) && memcmp(&kept, &fresh, sizeof fresh) == 0) return;
  contact_save(CONTACT_SLOT_NETWORK, &fresh, sizeof fresh);
}

#endif
