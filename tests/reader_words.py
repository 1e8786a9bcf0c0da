"""Words of each format, for whoever alters files of it."""

YAML = (b"*a", b"&a ", b"!!python/object", b"<<: ", b"\t", b"---\n", b"...\n", b"? ", b"- ", b"{", b"}", b"[", b"]",
        b": ", b"|\n", b">-\n", b"'", b'"', b"\\x1b", b'"\\ud800"', b"# ", b"%YAML 1.3\n", b".nan", b".inf", b"0o17", b"1:30",
        b"no", b"1e400", b"1_000", b"\xef\xbb\xbf", b"\xff\xfe", b"\x00", b"\xc2\x85", b"\xe2\x80\xae", b"\r", b"null", b"~")  # fmt: skip
MODELS = (b"nodes:", b"rows:", b"given:", b"parents: [shop]", b"noisy_max:", b"noisy_or:", b"visibility:", b"applies_if:",
          b"dimensions:", b"normal:", b"measured:", b"groups:", b"reading_matrices:", b"order:", b"leak:", b"p: {", b"n: 1e308", b"sd: 0", b"open: true")  # fmt: skip
EVIDENCE = (b"findings:", b"sure: 1", b"likelihood:", b"not_visible", b"not_examined:", b"priors:", b"sequence:", b"between: [1 mm, 2 mm]",
            b"propositions:", b"u: 1e-300 mm", b"below: 5 mm", b"state:", b"[[coating, crack]]", b"for: ")  # fmt: skip
JSON = (b"NaN", b"Infinity", b"-0", b"1e999", b"9" * 400, b"\\ud800", b"\\u0000", b"\\u001b", b"null", b"true", b"{}", b"[]", b'{"a":1,"a":2}',
        b"[" * 60, b'"', b",", b":", b"\xef\xbb\xbf", b"\xff", b"\x00", b"0.1e-400", b"1E400")  # fmt: skip
TABLE = (b",", b";", b"\t", b'"', b'""', b"\r\n", b"\r", b"\x00", b"\xef\xbb\xbf", b"\xff\xfe", b"=1+1", b"'=", b"#", b"id", b"group", b".sure",
         b".u", b"not_visible", b"\xe2\x80\xa8", b"\xed\xa0\x80", b"\x1b[31m", b"1e400", b"nan", b"9" * 400)  # fmt: skip
