import { brokerOf, TOPIC_BYTES, utf8Length } from '../../register/topics.ts'
import type { Kind } from '../program/kinds.ts'

/** The address of a broker, without a user or password. */
export const brokerAddress: Kind<string> = {
  read: given =>
    brokerOf(given)
      ? { value: given }
      : { wants: 'the address of a broker, such as mqtt://broker.lan, with no user or password in it' },
}

/** @see MQTT 3.1.1 and 5.0, 4.7.1-2 and 4.7.1-3 */
export const topicFilter: Kind<string> = {
  read: given => {
    const levels = given.split('/')
    const isLevel = (level: string, index: number): boolean =>
      !/[+#]/.test(level) || level === '+' || (level === '#' && index === levels.length - 1)
    return given !== '' && !given.includes('\0') && utf8Length(given) <= TOPIC_BYTES && levels.every(isLevel)
      ? { value: given }
      : { wants: "a topic filter such as 'house/#': # alone in the last level, + alone in its level" }
  },
}
