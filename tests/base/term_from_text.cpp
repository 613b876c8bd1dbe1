// Compiled by a test, with and without one of the forbidden lines: only words of this program become a Term.
#include "harness/base/gate.hpp"

hb::Term from_literal() { return hb::Term("a word of this program"); }

#if defined(HB_FROM_STRING)
hb::Term from_text(const std::string& phone_says) { return hb::Term(phone_says); }
#elif defined(HB_FROM_STRING_VIEW)
hb::Term from_text(std::string_view phone_says) { return hb::Term(phone_says); }
#elif defined(HB_FROM_POINTER)
hb::Term from_text(const char* phone_says) { return hb::Term(phone_says); }
#elif defined(HB_FROM_ARRAY)
hb::Term from_text(const char (&phone_says)[8]) { return hb::Term(phone_says); }
#endif
