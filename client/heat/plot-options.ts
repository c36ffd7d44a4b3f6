import type uPlot from 'uplot';
import { words } from '../words/words.ts';
import { limitWords, type Curve, type StrainView } from './strain.ts';

/** The colours and the face of a drawing, as the page has them at this moment. */
export interface PlotInk {
  ink: string;
  soft: string;
  line: string;
  fontFamily: string;
}

const textPx = 13;

/** Values, a line for the limit and a line for now, each said in words; no colour says anything. */
export function plotOptions(
  curve: Curve,
  view: StrainView,
  ink: PlotInk,
  size: { width: number; height: number },
): uPlot.Options {
  const font = `${textPx}px ${ink.fontFamily}`;
  const axis = { stroke: ink.soft, font, grid: { stroke: ink.line, width: 1 }, ticks: { stroke: ink.line, width: 1 } };
  const [low, high] = rangeOf(curve);
  return {
    ...size,
    legend: { show: false },
    cursor: { show: false },
    select: { show: false, left: 0, top: 0, width: 0, height: 0 },
    padding: [12, 12, 0, 0],
    scales: { x: { time: false, range: [0, view.minuteLast] }, y: { range: [low, high] } },
    axes: [
      { ...axis, space: 60, label: words.heat.minuteOfClock, labelFont: font, labelSize: 18, labelGap: 4, size: 30 },
      { ...axis, size: 52, space: 34, values: (_, splits) => splits.map((one) => tick(curve, one)) },
    ],
    series: [{}, { stroke: ink.ink, width: 2.5, points: { show: false } }],
    hooks: { draw: [(plot) => drawLimit(plot, curve, isLate(curve, view), ink), (plot) => drawNow(plot, view, ink)] },
  };
}

const tick = (curve: Curve, value: number): string => (curve.is === 'core' ? value.toFixed(1) : String(value));

/**
 * The limit is always in the picture, however far below it the curve stays; and however far a curve runs past it, the picture
 * ends soon after, because the figures there say nothing more.
 */
export function rangeOf({ is, values, limit }: Curve): [low: number, high: number] {
  const least = is === 'core' ? Math.min(36.5, ...values) : 0;
  const most = Math.min(Math.max(limit, ...values), limit + (limit - least) / 2);
  return [least, most + (most - least) * 0.15];
}

/** Where the curve is not, the limit is named: at the start above its line unless the curve passes it early, else at the end below. */
export const isLate = ({ reachedAt }: Curve, { minuteLast }: StrainView): boolean =>
  reachedAt === undefined || reachedAt > minuteLast / 2;

/** Everything below is in pixels of the canvas, which may be finer than those of the page. */
function drawLimit(plot: uPlot, curve: Curve, late: boolean, { ink, fontFamily }: PlotInk): void {
  const ratio = devicePixelRatio;
  const { left, width } = plot.bbox;
  const y = plot.valToPos(curve.limit, 'y', true);
  line(plot.ctx, { from: [left, y], to: [left + width, y], dash: [8 * ratio, 5 * ratio], stroke: ink, ratio });
  if (late) write(plot.ctx, limitWords(curve), left + 6 * ratio, y - 5 * ratio, { ink, fontFamily, align: 'left' });
  else {
    const below = y + (textPx + 7) * ratio;
    write(plot.ctx, limitWords(curve), left + width - 6 * ratio, below, { ink, fontFamily, align: 'right' });
  }
}

function drawNow(plot: uPlot, view: StrainView, { soft, fontFamily }: PlotInk): void {
  if (view.minuteNow > view.minuteLast) return;
  const ratio = devicePixelRatio;
  const { top, height, left, width } = plot.bbox;
  const x = plot.valToPos(view.minuteNow, 'x', true);
  line(plot.ctx, { from: [x, top], to: [x, top + height], dash: [2 * ratio, 3 * ratio], stroke: soft, ratio });
  const align = x > left + width / 2 ? 'right' : 'left';
  const beside = (align === 'left' ? 5 : -5) * ratio;
  write(plot.ctx, words.heat.now, x + beside, top + (textPx + 1) * ratio, { ink: soft, fontFamily, align });
}

interface Stroke {
  from: [x: number, y: number];
  to: [x: number, y: number];
  dash: number[];
  stroke: string;
  ratio: number;
}

function line(context: CanvasRenderingContext2D, { from, to, dash, stroke, ratio }: Stroke): void {
  context.save();
  context.beginPath();
  context.setLineDash(dash);
  context.lineWidth = 2 * ratio;
  context.strokeStyle = stroke;
  context.moveTo(...from);
  context.lineTo(...to);
  context.stroke();
  context.restore();
}

interface Script {
  ink: string;
  fontFamily: string;
  align: CanvasTextAlign;
}

function write(context: CanvasRenderingContext2D, text: string, x: number, y: number, script: Script): void {
  context.save();
  context.font = `600 ${textPx * devicePixelRatio}px ${script.fontFamily}`;
  context.fillStyle = script.ink;
  context.textAlign = script.align;
  context.textBaseline = 'bottom';
  context.fillText(text, x, y);
  context.restore();
}
