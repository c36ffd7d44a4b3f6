import type { Command } from 'commander';
import { verifyPath, type VerifiedLog } from '../log/verify-log.ts';
import { StartError } from '../start-error.ts';

export function addVerify(program: Command): void {
  program
    .command('verify')
    .description('check the hash chain of a log; names the first number that is not what was written')
    .argument('<path>', 'a data directory, or a log file (.jsonl)')
    .action(async (path: string) => {
      const verified = await verifyPath(path);
      switch (verified.outcome) {
        case 'unreadable':
          throw new StartError(verified.reason);
        case 'holds':
          return print(verified.logs);
        case 'broken':
          print(verified.logs.filter(({ chain }) => chain.ok));
          throw new StartError(verified.logs.flatMap(brokenWords).join(' '));
        default:
          return verified satisfies never;
      }
    });
}

function print(logs: readonly VerifiedLog[]): void {
  for (const { name, chain } of logs)
    if (chain.ok) process.stdout.write(`${name}: ${chain.count} facts hold, the last with hash ${chain.head.hash}\n`);
}

const brokenWords = ({ name, chain }: VerifiedLog): string[] =>
  chain.ok ? [] : [`${name}: broken at fact ${chain.number}: ${chain.reason}.`];
