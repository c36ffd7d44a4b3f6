// The thread in which the linear solver works: its calls block, so it needs one of its own. Plain JavaScript on purpose: bringing
// TypeScript into a thread takes longer than most of the problems it solves. One request after the other; solver.ts has the types.
import { parentPort } from 'node:worker_threads';
import loadHighs from 'highs';

const highs = await loadHighs();
const { modelStatus } = highs.constants;

/** Where the last problem of each shape ended. The next one of that shape is mostly near: from there it takes a fraction of the time. */
const ends = new Map();

// The first call takes longest, because only then the code is compiled: better now than when somebody waits.
solved(
  {
    ...{
      numCols: 2,
      numRows: 1,
      offset: 0,
      colCost: [1, 2],
      colLower: [0, 0],
      colUpper: [4, 4],
      rowLower: [3],
      rowUpper: [6],
    },
    matrix: { format: 'csr', numRows: 1, numCols: 2, starts: [0, 2], indices: [0, 1], values: [1, 1] },
  },
  {},
);

parentPort.on('message', ({ id, model, options }) => {
  parentPort.postMessage({ id, ...solved(model, options) });
});

function solved(data, options) {
  const model = highs.createModel(withInfinity(data));
  const isWhole = data.integrality !== undefined;
  const shape = `${data.numCols} ${data.numRows}`;
  try {
    model.options.set({ output_flag: false, ...options });
    if (!isWhole && ends.has(shape)) model.setBasis(ends.get(shape));
    model.run();
    const answer = read(model, isWhole);
    if (!isWhole && answer.kind === 'optimal') ends.set(shape, model.getBasis());
    return answer;
  } finally {
    model.dispose();
  }
}

function read(model, isWhole) {
  const status = model.getModelStatus();
  if (status === modelStatus.infeasible || status === modelStatus.unboundedOrInfeasible) return { kind: 'infeasible' };
  if (status === modelStatus.optimal || status === modelStatus.empty) {
    const { colValue, rowDual } = model.getSolution();
    const bound = isWhole ? model.info.get('mip_dual_bound') : model.getObjectiveValue();
    return { kind: 'optimal', bound, values: colValue, rowDuals: rowDual };
  }
  // Only whole-number problems have a bound before they are solved.
  return { kind: 'stopped', bound: isWhole ? model.info.get('mip_dual_bound') : undefined };
}

function withInfinity(data) {
  const replaced = (numbers) => numbers.map((one) => (Number.isFinite(one) ? one : Math.sign(one) * highs.infinity));
  return {
    ...data,
    colLower: replaced(data.colLower),
    colUpper: replaced(data.colUpper),
    rowLower: replaced(data.rowLower),
    rowUpper: replaced(data.rowUpper),
  };
}
