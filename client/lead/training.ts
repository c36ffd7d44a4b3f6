import type { Lessons, StepLesson, TimeSummary } from '../../machines/procedure/lessons.ts';
import { words } from '../words/words.ts';

/** The lessons of a version in words and figures for the page. */
const text = words.lead.training;

export const figure = (value: number | null): string => (value === null ? '–' : String(Math.round(value * 10) / 10));

export const timeWords = ({ n, median, ninetieth }: TimeSummary): string =>
  n === 0 ? text.noTimes : text.time(figure(median), figure(ninetieth), n);

/** A step that deserves training, and how it goes wrong. */
export function trainRows(lessons: Lessons): { step: string; words: string; why: string }[] {
  return lessons.train.flatMap((id) => {
    const lesson = lessons.steps.find((one) => one.step === id);
    return lesson ? [{ step: id, words: lesson.words, why: whyOf(lesson) }] : [];
  });
}

function whyOf(lesson: StepLesson): string {
  const reached = lesson.verified + lesson.overridden;
  return `${lesson.deviations} in ${reached}: ${kindsOf(lesson)}`;
}

/** Deviations of a step by kind and by who made them. */
export function kindsOf({ byKind, byActor }: StepLesson): string {
  const kinds = Object.entries(byKind).map(([kind, count]) => `${nameIn(text.kinds, kind)} ${count}`);
  const actors = Object.entries(byActor).map(([actor, count]) => `${nameIn(text.actors, actor)} ${count}`);
  return [...kinds, ...actors].join(', ');
}

const nameIn = (names: Readonly<Record<string, string>>, key: string): string => names[key] ?? key;

/** Deviations month by month, for the step's row: "2026-03: 2". */
export const monthsOf = ({ months }: StepLesson): string =>
  months
    .filter((one) => one.deviations > 0 || one.medianSeconds !== null)
    .map(({ month, deviations, medianSeconds }) => `${month}: ${deviations}, ${figure(medianSeconds)} s`)
    .join('; ');
