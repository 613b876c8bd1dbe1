/// Journals that no run wrote, made of a good one.
#pragma once

#include <string>
#include <utility>
#include <vector>

namespace hb::run::test {

/// Name and bytes of each. `good`: a header and at least one whole entry with a capture.
inline std::vector<std::pair<std::string, std::string>> corrupt_journals(const std::string& good) {
  const auto header_end = good.find('\n') + 1;
  const std::string header = good.substr(0, header_end), rest = good.substr(header_end);
  const std::string first = rest.substr(0, rest.find('\n') + 1);
  std::vector<std::pair<std::string, std::string>> out;
  const auto nested = [](std::size_t n, char open, char close) {
    return std::string(n, open) + std::string(n, close);
  };
  const auto line = [](const std::string& head) {
    return R"({"journal":"handback-journal-1","header":)" + head + "}\n";
  };
  // The value of a member replaced by another text.
  const auto with = [](std::string text, const std::string& member, const std::string& value) {
    const std::string key = "\"" + member + "\":";
    const auto at = text.find(key);
    if (at == std::string::npos) {  // put in
      const auto brace = text.rfind('}', text.rfind('}') - 1);
      const auto place = text.find("\"header\":{") != std::string::npos ? brace : text.rfind('}');
      return text.insert(place, "," + key + value);
    }
    const auto from = at + key.size();
    std::size_t to = from;
    for (int depth = 0; to < text.size(); ++to) {
      if (text[to] == '"') {
        to = text.find('"', to + 1);
        continue;
      }
      if (text[to] == '[' || text[to] == '{') ++depth;
      if (depth == 0 && (text[to] == ',' || text[to] == '}')) break;
      if (text[to] == ']' || text[to] == '}') --depth;
    }
    return text.replace(from, to - from, value);
  };
  const auto in_header = [&](const std::string& name, const std::string& member, const std::string& value) {
    out.emplace_back(name, with(header, member, value) + rest);
  };
  const auto in_entry = [&](const std::string& name, const std::string& member, const std::string& value) {
    out.emplace_back(name, header + with(first, member, value));
  };

  out.emplace_back("empty", "");
  out.emplace_back("one_newline", "\n");
  out.emplace_back("torn_in_the_header", header.substr(0, header.size() / 2));
  out.emplace_back("no_json", "journal\n" + rest);
  out.emplace_back("zero_bytes", std::string(4096, '\0'));
  out.emplace_back("zero_bytes_and_a_newline", std::string(4096, '\0') + "\n");
  out.emplace_back("no_text", "\xff\xfe\x80\n" + rest);
  out.emplace_back("header_is_missing", "{\"journal\":\"handback-journal-1\"}\n" + rest);
  out.emplace_back("another_kind", "{\"journal\":1,\"header\":{}}\n" + rest);
  for (const char* v : {"null", "1", "true", "[]", "\"text\""})
    out.emplace_back(std::string("header_is_") + v, line(v) + rest);
  out.emplace_back("header_deep", line(nested(200000, '[', ']')) + rest);
  out.emplace_back("header_member_deep", line("{\"job\":" + nested(200000, '[', ']') + "}") + rest);
  out.emplace_back("header_open_and_never_closed", line(std::string(200000, '[')) + rest);
  std::string objects;
  for (int i = 0; i < 50000; ++i) objects += "{\"a\":";
  out.emplace_back("header_of_objects_deep", line(objects + "1" + std::string(50000, '}')) + rest);
  in_header("job_is_a_number", "job", "7");
  in_header("job_is_a_list", "job", "[\"J-20261125-0001\"]");
  in_header("kind_is_null", "kind", "null");
  in_header("run_id_is_an_object", "run_id", "{}");
  in_header("started_is_a_number", "started", "1764000000");
  in_header("started_is_no_date", "started", "\"yesterday\"");
  in_header("tag_is_a_number", "tag", "3");
  in_header("tail_is_true", "tail", "true");
  in_header("model_is_a_list", "model", "[[]]");
  in_header("clock_is_a_number", "clock", "0.5");
  in_header("profile_is_an_object", "profile_sha256", "{\"a\":{}}");
  in_header("profile_is_another", "profile_sha256", "\"00\"");
  in_header("job_moves_the_terminal", "job", "\"\\u001b[2J\"");
  in_header("number_beyond_all", "clock_back_s", "1e999");

  for (const char* v : {"[]", "null", "7", "\"text\"", ""})
    out.emplace_back(std::string("entry_is_") + (*v == '\0' ? "nothing" : v), header + v + "\n" + first);
  out.emplace_back("entry_deep", header + nested(200000, '[', ']') + "\n");
  out.emplace_back("entry_cut_in_the_middle", header + first.substr(0, first.size() / 2) + "\n" + first);
  in_entry("check_is_a_number", "check", "1");
  in_entry("try_is_a_text", "try", "\"1\"");
  in_entry("try_is_negative", "try", "-1");
  in_entry("try_is_huge", "try", "1e300");
  in_entry("connection_is_negative", "connection", "-2");
  in_entry("connection_is_huge", "connection", "18446744073709551615");
  in_entry("connection_is_a_text", "connection", "\"0\"");
  in_entry("seconds_are_a_text", "bench_seconds", "\"3\"");
  in_entry("seconds_are_huge", "bench_seconds", "1e308");
  in_entry("from_is_null", "from_s", "null");
  in_entry("waived_is_a_text", "waived", "\"yes\"");
  in_entry("not_tested_is_an_object", "not_tested", "{}");
  in_entry("safety_is_a_list", "safety", "[]");
  in_entry("capture_is_a_text", "capture", "\"x\"");
  in_entry("capture_is_a_number", "capture", "1");
  in_entry("capture_is_of_another_check", "capture", "{\"a\":1}");
  in_entry("capture_deep", "capture", nested(200000, '[', ']'));
  return out;
}
}  // namespace hb::run::test
