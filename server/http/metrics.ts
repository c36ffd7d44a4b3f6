import { Counter, Gauge, Histogram, Registry } from 'prom-client';
import type { Fact } from '../../machines/wire/fact.ts';
import type { ReportAnswer } from '../../machines/wire/messages.ts';
import type { RefusalCode } from '../../machines/wire/refusal.ts';

/** What can be counted about a running server. One registry per server, so that several can live in one process. */
export class Metrics {
  readonly registry = new Registry();

  private readonly facts = this.counter('facts_total', 'Facts written to or found in the log', ['kind']);
  private readonly alerts = this.counter('alerts_raised_total', 'Alerts raised', ['kind', 'priority']);
  private readonly reports = this.counter('reports_total', 'Reports answered; code is empty when accepted', [
    'answer',
    'code',
  ]);
  private readonly refusals = this.counter('refusals_total', 'Messages of any kind that were refused', ['code']);
  private readonly cuts = this.counter('sockets_cut_total', 'Sockets this server closed on purpose', ['reason']);
  private readonly sockets = new Gauge({
    name: 'anteroom_sockets',
    help: 'Sockets open now',
    registers: [this.registry],
  });
  private readonly appendSeconds = this.histogram(
    'append_seconds',
    'From handing a batch to the log until it is durable',
    [0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5],
  );
  private readonly reportsPerAppend = this.histogram(
    'reports_per_append',
    'Reports that shared one append (group commit)',
    [0, 1, 2, 4, 8, 16, 32, 64, 128, 256, 512],
  );
  private readonly lateness = this.histogram(
    'deadline_lateness_seconds',
    'From when something fell due until it was written',
    [0.01, 0.05, 0.1, 0.25, 0.5, 1, 2, 5, 60, 3600],
  );

  batchAppended(batch: { reports: number; appendMs: number }): void {
    this.appendSeconds.observe(batch.appendMs / 1000);
    this.reportsPerAppend.observe(batch.reports);
  }

  factsPublished(facts: readonly Fact[]): void {
    for (const fact of facts) {
      this.facts.inc({ kind: fact.kind });
      if (fact.kind === 'alert-raised') this.alerts.inc({ kind: fact.data.alertKind, priority: fact.data.priority });
      if (isDeadline(fact)) this.lateness.observe(Math.max(0, fact.receivedAt - fact.at) / 1000);
    }
  }

  reportAnswered(answer: ReportAnswer): void {
    if (answer.accepted) return this.reports.inc({ answer: answer.repeat ? 'repeat' : 'accepted', code: '' });
    this.reports.inc({ answer: answer.retry ? 'turned-away' : 'refused', code: answer.code });
    this.refusals.inc({ code: answer.code });
  }

  messageRefused(code: RefusalCode): void {
    this.refusals.inc({ code });
  }

  socketOpened(): void {
    this.sockets.inc();
  }

  socketClosed(): void {
    this.sockets.dec();
  }

  socketCut(reason: 'replaced' | 'slow-reader' | 'flood'): void {
    this.cuts.inc({ reason });
  }

  private counter<Label extends string>(name: string, help: string, labelNames: Label[]): Counter<Label> {
    return new Counter({ name: `anteroom_${name}`, help, labelNames, registers: [this.registry] });
  }

  private histogram(name: string, help: string, buckets: number[]): Histogram {
    return new Histogram({ name: `anteroom_${name}`, help, buckets, registers: [this.registry] });
  }
}

/** Facts that time alone brings about, at a moment that was known before. */
function isDeadline(fact: Fact): boolean {
  if (fact.kind === 'rest-ended' || fact.kind === 'alert-escalated') return true;
  return (
    fact.kind === 'alert-raised' && ['limit-approaching', 'call-out', 'limit-reached'].includes(fact.data.alertKind)
  );
}
