/** Hands a text to the browser as a file to keep. */
export function saveAs(fileName: string, text: string): void {
  const address = URL.createObjectURL(new Blob([text], { type: 'text/yaml' }));
  const link = document.createElement('a');
  link.href = address;
  link.download = fileName;
  link.click();
  URL.revokeObjectURL(address);
}
