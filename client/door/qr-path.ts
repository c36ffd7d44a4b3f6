import { create } from 'qrcode';

/**
 * A QR code (ISO/IEC 18004) as one SVG path of dark squares, one unit each, inside the quiet zone of four units the standard
 * asks for. A path has no inline style, so that a strict content policy has nothing to block.
 */
export interface QrPath {
  path: string;
  /** Width and height of the picture in units, quiet zone included. */
  size: number;
}

export const quietZone = 4;

export function qrPath(text: string): QrPath {
  const { modules } = create(text, { errorCorrectionLevel: 'M' });
  const rows = Array.from({ length: modules.size }, (_, row) => rowPath(modules, row));
  return { path: rows.join(''), size: modules.size + 2 * quietZone };
}

/** The dark runs of one row, left to right. */
function rowPath(modules: { size: number; get(row: number, column: number): number }, row: number): string {
  let path = '';
  for (let column = 0; column < modules.size; column += 1) {
    const from = column;
    while (column < modules.size && modules.get(row, column)) column += 1;
    if (column > from) path += `M${from + quietZone} ${row + quietZone}h${column - from}v1h-${column - from}z`;
  }
  return path;
}
