/** The greatest whole number that divides both; 0 and another give the other. */
export function greatestCommonDivisor(one: number, other: number): number {
  return other === 0 ? one : greatestCommonDivisor(other, one % other);
}
