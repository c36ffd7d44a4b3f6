import { create } from 'qrcode';
import { describe, expect, it } from 'vitest';
import { isLoopback, reachOf } from '../../client/door/addresses.ts';
import { qrPath, quietZone } from '../../client/door/qr-path.ts';

describe('where another device can open the page', () => {
  it('is nowhere when the server listens on its own computer only', () => {
    expect(reachOf(['http://127.0.0.1:4300'], 'http://localhost:4300')).toEqual({
      elsewhere: [],
      here: 'http://localhost:4300',
    });
  });

  it('is the network address when there is one', () => {
    const reach = reachOf(['http://10.0.0.7:4300', 'http://127.0.0.1:4300'], 'http://127.0.0.1:4300');
    expect(reach).toEqual({ elsewhere: ['http://10.0.0.7:4300'], here: 'http://127.0.0.1:4300' });
  });

  it('is first the address this very page was opened at, when that is no loopback', () => {
    const addresses = ['http://172.17.0.1:4300', 'http://10.0.0.7:4300', 'http://127.0.0.1:4300'];
    expect(reachOf(addresses, 'https://unit.example').elsewhere[0]).toBe('https://unit.example');
    expect(reachOf(addresses, 'http://10.0.0.7:4300').elsewhere).toEqual([
      'http://10.0.0.7:4300',
      'http://172.17.0.1:4300',
    ]);
  });

  it('leaves out what is no address', () => {
    expect(reachOf(['', 'nonsense'], 'http://[::1]:4300').elsewhere).toEqual([]);
  });

  it.each(['http://localhost:1', 'http://127.9.9.9:1', 'http://[::1]:1', 'http://unit.localhost:1'])(
    'knows %s for a loopback',
    (address) => expect(isLoopback(address)).toBe(true),
  );
  it.each(['http://10.0.0.7:1', 'http://[fe80::1]:1', 'http://127.example.org', 'https://localhost.example.org'])(
    'knows %s for none',
    (address) => expect(isLoopback(address)).toBe(false),
  );
});

describe('the path of a QR code', () => {
  const text = 'http://10.0.0.7:4300/';
  const { path, size } = qrPath(text);

  it('has every dark square of the code and no other, inside the quiet zone', () => {
    const { modules } = create(text, { errorCorrectionLevel: 'M' });
    expect(size).toBe(modules.size + 8);
    const dark = drawn(path, size);
    for (let row = 0; row < size; row += 1)
      for (let column = 0; column < size; column += 1) {
        const [y, x] = [row - quietZone, column - quietZone];
        const inside = y >= 0 && x >= 0 && y < modules.size && x < modules.size;
        expect(dark.has(`${column},${row}`), `${column},${row}`).toBe(inside && Boolean(modules.get(y, x)));
      }
  });

  it('has the three finder squares of the standard', () => {
    const dark = drawn(path, size);
    const last = size - quietZone - 7;
    for (const [x, y] of [
      [quietZone, quietZone],
      [last, quietZone],
      [quietZone, last],
    ] as const)
      for (let step = 0; step < 7; step += 1) {
        expect(dark.has(`${x + step},${y}`)).toBe(true);
        expect(dark.has(`${x + step},${y + 3}`)).toBe(step !== 1 && step !== 5);
      }
  });
});

/** The squares a path covers, read back from its own words. */
function drawn(path: string, size: number): Set<string> {
  const squares = new Set<string>();
  for (const [, x, y, run] of path.matchAll(/M(\d+) (\d+)h(\d+)v1h-\3z/g))
    for (let step = 0; step < Number(run); step += 1) squares.add(`${Number(x) + step},${Number(y)}`);
  expect(path.replace(/M\d+ \d+h(\d+)v1h-\1z/g, '')).toBe('');
  expect([...squares].every((one) => one.split(',').every((part) => Number(part) < size))).toBe(true);
  return squares;
}
