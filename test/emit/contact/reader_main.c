/* The packet reader alone. Standard input: cases, each two bytes of length and so many bytes. Prints one line a case:
 * each whole packet as three hexadecimal numbers, `!` where the reader calls nonsense and stops.
 */
#include "contact_packets.h"
#include <stdio.h>

int main(void) {
  int high, low;
  while ((high = getchar()) != EOF && (low = getchar()) != EOF) {
    struct contact_reader reader = {0};
    bool stopped = false;
    for (int left = high << 8 | low; left > 0; left--) {
      const enum contact_read read = stopped ? CONTACT_MORE : contact_read(&reader, (uint8_t)getchar());
      if (stopped) (void)getchar();
      if (read == CONTACT_WHOLE) (void)printf("%02x%02x%02x ", reader.first, reader.body[0], reader.body[1]);
      if (read == CONTACT_NONSENSE) {
        (void)printf("!");
        stopped = true;
      }
    }
    (void)printf("\n");
  }
  return 0;
}
