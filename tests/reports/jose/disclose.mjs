// Verifies a signed record with its disclosures (SD-JWT, RFC 9901), using libraries that are not ours.
// node disclose.mjs TEXT_FILE JWK_FILE -> prints the record with what is disclosed; exit 1 when it does not verify.
import { createHash, webcrypto } from 'node:crypto';
import { readFileSync } from 'node:fs';

globalThis.crypto ??= webcrypto; // Debian 12's Node.js 18 has it, but not as a global
const { SDJwtInstance } = await import('@sd-jwt/core');
const { compactVerify, importJWK } = await import('jose');

const [textFile, jwkFile] = process.argv.slice(2);
try {
  const key = await importJWK(JSON.parse(readFileSync(jwkFile, 'utf8')), 'EdDSA');
  const reader = new SDJwtInstance({
    hasher: (data, algorithm) => createHash(algorithm.replace('-', '')).update(data).digest(),
    verifier: async (data, signature) => {
      await compactVerify(`${data}.${signature}`, key, { algorithms: ['EdDSA'] }); // throws when it does not hold
      return true;
    },
  });
  const { payload } = await reader.verify(readFileSync(textFile, 'utf8'));
  process.stdout.write(JSON.stringify(payload));
} catch (e) {
  console.error(String(e.code ?? e.message));
  process.exit(1);
}
