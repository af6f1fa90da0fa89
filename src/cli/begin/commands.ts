import { define } from '../program/command.ts'
import { number, path } from '../program/kinds.ts'
import { option, required } from '../program/option.ts'
import { brokerAddress, topicFilter } from './overhear-options.ts'

export const demo = define({
  name: 'demo',
  summary:
    'Play a house on this machine: a broker, 26 contacts that behave and misbehave, and the wall in your browser.',
  args: {},
  options: {
    port: option(number({ most: 65_533, isWhole: true }), {
      value: 'number',
      text: 'port of the page; the broker takes the two after it; 0 takes any',
      fallback: '4780',
    }),
    speed: option(number({ least: 0.01, most: 1000 }), {
      value: 'factor',
      text: 'how much faster things happen; the contacts keep their own pace',
      fallback: '1',
    }),
    seed: option(number({ most: 4_294_967_295, isWhole: true }), {
      value: 'number',
      text: 'the same seed makes the same day',
    }),
  },
  examples: ['sashtally demo', 'sashtally demo --port 9000 --speed 4 --seed 7'],
  next: 'sashtally init asks what a register of your own needs',
})

export const init = define({
  name: 'init',
  summary: 'Ask a few questions and write a commented register; a file that is there is never written over.',
  args: {},
  options: { out: option(path, { short: 'o', value: 'file', text: 'the register to write', fallback: 'house.yaml' }) },
  examples: ['sashtally init --out house.yaml'],
  next: 'sashtally check FILE says what is wrong with it, and what is made from it',
})

export const overhear = define({
  name: 'overhear',
  summary:
    'Listen to a broker and propose a register from the contacts that speak; a file that is there is never written over.',
  args: {},
  options: {
    broker: required(brokerAddress, { value: 'address', text: 'the broker: mqtt://host' }),
    topic: required(topicFilter, { value: 'filter', text: 'what to listen to' }),
    minutes: option(number(), { value: 'number', text: 'how long; Ctrl-C ends it earlier', fallback: '60' }),
    out: option(path, {
      short: 'o',
      value: 'file',
      text: 'write the proposal to this file instead of standard output',
    }),
  },
  examples: ["sashtally overhear --broker mqtt://broker.lan --topic 'house/#' --minutes 30 --out proposal.yaml"],
  next: 'name the openings, add client ids, then sashtally check FILE',
  account: 'direct',
})
