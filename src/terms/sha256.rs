//! SHA-256 (FIPS 180-4, 6.2), the keyed hash over it (HMAC, RFC 2104), and its base64 (RFC 4648, 4).
//!
//! By digests the page's policy admits its own texts; by the keyed hash `share` moves places as only the holder of the
//! key could tell.

/// Fractional parts of the cube roots of the first 64 primes (FIPS 180-4, 4.2.2).
const ROUND_CONSTANTS: [u32; 64] = [
    0x428a_2f98,
    0x7137_4491,
    0xb5c0_fbcf,
    0xe9b5_dba5,
    0x3956_c25b,
    0x59f1_11f1,
    0x923f_82a4,
    0xab1c_5ed5,
    0xd807_aa98,
    0x1283_5b01,
    0x2431_85be,
    0x550c_7dc3,
    0x72be_5d74,
    0x80de_b1fe,
    0x9bdc_06a7,
    0xc19b_f174,
    0xe49b_69c1,
    0xefbe_4786,
    0x0fc1_9dc6,
    0x240c_a1cc,
    0x2de9_2c6f,
    0x4a74_84aa,
    0x5cb0_a9dc,
    0x76f9_88da,
    0x983e_5152,
    0xa831_c66d,
    0xb003_27c8,
    0xbf59_7fc7,
    0xc6e0_0bf3,
    0xd5a7_9147,
    0x06ca_6351,
    0x1429_2967,
    0x27b7_0a85,
    0x2e1b_2138,
    0x4d2c_6dfc,
    0x5338_0d13,
    0x650a_7354,
    0x766a_0abb,
    0x81c2_c92e,
    0x9272_2c85,
    0xa2bf_e8a1,
    0xa81a_664b,
    0xc24b_8b70,
    0xc76c_51a3,
    0xd192_e819,
    0xd699_0624,
    0xf40e_3585,
    0x106a_a070,
    0x19a4_c116,
    0x1e37_6c08,
    0x2748_774c,
    0x34b0_bcb5,
    0x391c_0cb3,
    0x4ed8_aa4a,
    0x5b9c_ca4f,
    0x682e_6ff3,
    0x748f_82ee,
    0x78a5_636f,
    0x84c8_7814,
    0x8cc7_0208,
    0x90be_fffa,
    0xa450_6ceb,
    0xbef9_a3f7,
    0xc671_78f2,
];

/// Fractional parts of the square roots of the first eight primes (FIPS 180-4, 5.3.3).
const START: [u32; 8] =
    [0x6a09_e667, 0xbb67_ae85, 0x3c6e_f372, 0xa54f_f53a, 0x510e_527f, 0x9b05_688c, 0x1f83_d9ab, 0x5be0_cd19];

/// The digest of a text, as a content security policy writes it (without quotes): `sha256-…`.
#[must_use]
pub fn policy_source(text: &str) -> String {
    format!("sha256-{}", base64(&digest(text.as_bytes())))
}

/// The keyed hash of a message (HMAC-SHA-256). Without the key nobody can tell it from chance.
///
/// ```
/// use shoalwright::terms::sha256::keyed;
///
/// assert_ne!(keyed(b"one key", b"a place"), keyed(b"another", b"a place"));
/// ```
#[must_use]
pub fn keyed(key: &[u8], message: &[u8]) -> [u8; 32] {
    const BLOCK: usize = 64;
    let mut block = [0; BLOCK];
    if key.len() > BLOCK {
        block[..32].copy_from_slice(&digest(key));
    } else {
        block[..key.len()].copy_from_slice(key);
    }
    let padded = |pad: u8| block.iter().map(|byte| byte ^ pad).collect::<Vec<u8>>();
    let inner = digest(&[&padded(0x36)[..], message].concat());
    digest(&[&padded(0x5c)[..], &inner].concat())
}

fn digest(message: &[u8]) -> [u8; 32] {
    let mut padded = message.to_vec();
    padded.push(0x80);
    padded.resize((message.len() + 9).div_ceil(64) * 64 - 8, 0);
    padded.extend_from_slice(&(message.len() as u64 * 8).to_be_bytes());
    let mut state = START;
    for block in padded.chunks_exact(64) {
        compress(&mut state, block);
    }
    let mut digest = [0; 32];
    for (bytes, word) in digest.chunks_exact_mut(4).zip(state) {
        bytes.copy_from_slice(&word.to_be_bytes());
    }
    digest
}

fn compress(state: &mut [u32; 8], block: &[u8]) {
    let mut w = [0_u32; 64];
    for (word, bytes) in w.iter_mut().zip(block.chunks_exact(4)) {
        *word = bytes.iter().fold(0, |word, byte| word << 8 | u32::from(*byte));
    }
    for t in 16..64 {
        let small_0 = w[t - 15].rotate_right(7) ^ w[t - 15].rotate_right(18) ^ (w[t - 15] >> 3);
        let small_1 = w[t - 2].rotate_right(17) ^ w[t - 2].rotate_right(19) ^ (w[t - 2] >> 10);
        w[t] = w[t - 16].wrapping_add(small_0).wrapping_add(w[t - 7]).wrapping_add(small_1);
    }
    let [mut a, mut b, mut c, mut d, mut e, mut f, mut g, mut h] = *state;
    for (constant, word) in ROUND_CONSTANTS.into_iter().zip(w) {
        let big_1 = e.rotate_right(6) ^ e.rotate_right(11) ^ e.rotate_right(25);
        let choice = (e & f) ^ (!e & g);
        let first = h.wrapping_add(big_1).wrapping_add(choice).wrapping_add(constant).wrapping_add(word);
        let big_0 = a.rotate_right(2) ^ a.rotate_right(13) ^ a.rotate_right(22);
        let majority = (a & b) ^ (a & c) ^ (b & c);
        (h, g, f, e) = (g, f, e, d.wrapping_add(first));
        (d, c, b, a) = (c, b, a, first.wrapping_add(big_0.wrapping_add(majority)));
    }
    for (word, worked) in state.iter_mut().zip([a, b, c, d, e, f, g, h]) {
        *word = word.wrapping_add(worked);
    }
}

fn base64(bytes: &[u8]) -> String {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut text = String::new();
    for three in bytes.chunks(3) {
        let bits = (0..3).fold(0_u32, |bits, i| bits << 8 | u32::from(three.get(i).copied().unwrap_or(0)));
        for i in 0..4 {
            let letter = LETTERS[(bits >> (18 - 6 * i) & 63) as usize];
            text.push(if i <= three.len() { char::from(letter) } else { '=' });
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digests_are_those_of_the_standards_examples() {
        // FIPS 180-4 examples (csrc.nist.gov, SHA256.pdf) and the empty message, in base64 by coreutils.
        for (message, expected) in [
            ("", "sha256-47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU="),
            ("abc", "sha256-ungWv48Bz+pBQUDeXa4iI7ADYaOWF3qctBD/YfIAFa0="),
            (
                "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
                "sha256-JI1qYdIGOLjlwCaTDD5gOaM85Flk/yFn9uzt1BnbBsE=",
            ),
        ] {
            assert_eq!(policy_source(message), expected);
        }
    }

    #[test]
    fn keyed_hashes_are_those_of_rfc_4231() {
        // Test cases 1, 2 and 6 (a key longer than a block) of RFC 4231, recomputed with Python's hmac.
        for (key, message, expected) in [
            (vec![0x0b; 20], "Hi There", "b0344c61d8db38535ca8afceaf0bf12b881dc200c9833da726e9376c2e32cff7"),
            (
                b"Jefe".to_vec(),
                "what do ya want for nothing?",
                "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843",
            ),
            (
                vec![0xaa; 131],
                "Test Using Larger Than Block-Size Key - Hash Key First",
                "60e431591ee0b67f0d8a26aacbf5b77f8e0bc6213728c5140546040f0ee37f54",
            ),
        ] {
            let hash = keyed(&key, message.as_bytes());
            let hex = hash.iter().fold(String::new(), |hex, byte| hex + &format!("{byte:02x}"));
            assert_eq!(hex, expected);
        }
    }

    #[test]
    fn base64_pads_as_the_examples_of_rfc_4648() {
        for (bytes, expected) in
            [("", ""), ("f", "Zg=="), ("fo", "Zm8="), ("foo", "Zm9v"), ("foob", "Zm9vYg==")]
        {
            assert_eq!(base64(bytes.as_bytes()), expected);
        }
    }
}
