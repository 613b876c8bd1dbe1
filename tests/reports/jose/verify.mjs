// Verifies a compact JWS with a public JWK, using a library that is not ours. Of a text with disclosures: its JWS.
// node verify.mjs JWS_FILE JWK_FILE -> prints the payload; exit 1 when it does not verify.
import { webcrypto } from 'node:crypto';
import { readFileSync } from 'node:fs';

globalThis.crypto ??= webcrypto; // Debian 12's Node.js 18 has it, but not as a global
const { compactVerify, importJWK, calculateJwkThumbprint } = await import('jose');

const [jwsFile, jwkFile] = process.argv.slice(2);
const jwk = JSON.parse(readFileSync(jwkFile, 'utf8'));
try {
  const key = await importJWK(jwk, 'EdDSA');
  const { payload, protectedHeader } = await compactVerify(readFileSync(jwsFile, 'utf8').split('~')[0], key, { algorithms: ['EdDSA'] });
  const thumbprint = await calculateJwkThumbprint(jwk, 'sha256');
  if (protectedHeader.kid !== thumbprint) throw new Error('kid is not the thumbprint');
  process.stdout.write(payload);
} catch (e) {
  console.error(String(e.code ?? e.message));
  process.exit(1);
}
