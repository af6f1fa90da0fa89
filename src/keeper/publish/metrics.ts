import { type Health, type HousesHealth, verdictOf } from './verdict.ts'

/** @see OpenMetrics 1.0, section "Overall Structure": media type and version */
export const METRICS_TYPE = 'application/openmetrics-text; version=1.0.0; charset=utf-8'

interface Metric {
  readonly name: string
  /** The last part of the name, where the value has a unit. */
  readonly unit?: 'seconds' | 'bytes'
  readonly help: string
  /** Undefined: there is nothing to measure, and the metric is left out. */
  value(health: Health): number | undefined
}

const METRICS: readonly Metric[] = [
  {
    name: 'sashtally_at_work',
    help: '1 while the keeper does its work, else 0: what /healthz says.',
    value: health => Number(verdictOf(health).isWell),
  },
  {
    name: 'sashtally_last_beat_timestamp_seconds',
    unit: 'seconds',
    help: "Unix time at which the broker last took the keeper's state.",
    value: ({ beat }) => beat && beat.at / 1000,
  },
  { name: 'sashtally_entries', help: 'Entries in the tally.', value: ({ entries }) => entries },
  {
    name: 'sashtally_waiting_messages',
    help: 'Messages that came and are not on the disk yet.',
    value: ({ waiting }) => waiting,
  },
  {
    name: 'sashtally_refused_messages',
    help: 'Messages and sayings that were refused in the last 24 hours.',
    value: ({ refused }) => refused,
  },
  {
    name: 'sashtally_backup_age_seconds',
    unit: 'seconds',
    help: 'Age of the newest backup, from the beginning of its day (UTC); infinite before the first.',
    value: ({ backupAgeMilliseconds: age }) => age && age / 1000,
  },
  {
    name: 'sashtally_disk_free_bytes',
    unit: 'bytes',
    help: 'What the disk of the tally has left.',
    value: ({ diskFreeBytes }) => diskFreeBytes,
  },
]

/**
 * How a keeper is doing as a page for a monitor (OpenMetrics): what `/metrics` says. All gauges, so that the text is also right for what reads the older exposition format alone.
 * @see OpenMetrics 1.0, sections "Overall Structure" and "Numbers"; before the keeper is at work only that is known
 */
export const metricsText = (health: Health | undefined): string => pageOf([['', health]])

/**
 * As `metricsText`, of many houses: each value has the name of its house as the label `house`.
 * @see OpenMetrics 1.0, section "ABNF": `label` and `escaped-string`
 */
export const housesMetricsText = (houses: HousesHealth): string =>
  pageOf([...houses].map(([name, health]) => [`{house="${escaped(name)}"}`, health]))

const escaped = (text: string): string => text.replace(/[\\"]/g, '\\$&').replace(/\n/g, '\\n')

function pageOf(houses: readonly (readonly [label: string, Health | undefined])[]): string {
  const lines = METRICS.flatMap(metric => {
    const values = houses.flatMap(([label, health]) => {
      const value = health ? metric.value(health) : metric === METRICS[0] ? 0 : undefined
      return value === undefined ? [] : [`${metric.name}${label} ${value === Infinity ? '+Inf' : value}`]
    })
    return values.length === 0 ? [] : [...headOf(metric), ...values]
  })
  return [...lines, '# EOF', ''].join('\n')
}

const headOf = ({ name, unit, help }: Metric): string[] => [
  `# TYPE ${name} gauge`,
  ...(unit ? [`# UNIT ${name} ${unit}`] : []),
  `# HELP ${name} ${help}`,
]
