#pragma once

#include <string>
#include <string_view>

namespace bilancetta
{

/// Blanks that spreadsheets put around numbers and between thousands: no-break, narrow no-break and thin (UTF-8).
inline constexpr std::string_view wide_blanks[] = {"\xC2\xA0", "\xE2\x80\xAF", "\xE2\x80\x89"};

/// Bytes of the blank that a text begins with, or 0.
inline std::size_t blank_at_begin(std::string_view text)
{
  if (text.empty() || text[0] == ' ' || text[0] == '\t') {
    return text.empty() ? 0 : 1;
  }
  if (static_cast<unsigned char>(text[0]) >= 0x80) {
    for (const std::string_view blank : wide_blanks) {
      if (text.starts_with(blank)) {
        return blank.size();
      }
    }
  }
  return 0;
}

/// Of ASCII, in any locale: in Turkish ones the functions of C do not take an I for a large i.
inline char lower_letter(char c)
{
  return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
}
inline bool is_digit(char c)
{
  return c >= '0' && c <= '9';
}
inline bool is_letter(char c)
{
  return lower_letter(c) >= 'a' && lower_letter(c) <= 'z';
}

std::string lower_case(std::string word);

/// Without the blanks at either end.
std::string_view trimmed(std::string_view text);

/// Calls use(word) for each part of a text between blanks.
template <typename Use>
void for_each_word(std::string_view text, Use use)
{
  std::size_t length = 0;  // of the word that the text begins with
  while (length < text.size()) {
    const std::size_t blank = blank_at_begin(text.substr(length));
    if (blank == 0) {
      ++length;
      continue;
    }
    if (length > 0) {
      use(text.substr(0, length));
    }
    text.remove_prefix(length + blank);
    length = 0;
  }
  if (length > 0) {
    use(text);
  }
}

/// A text of which no more than so many bytes are kept, cut between two characters of UTF-8, with " ..." behind.
std::string shortened(std::string_view text, std::size_t most);

/// With a capital letter first.
std::string capitalised(std::string text);

/// A number with so many decimals: what fmt writes, but quicker for the usual sizes.
std::string fixed(double value, int decimals);

/// A number for people, rounded to so many significant digits: "1300", "0.042"; without zeros after its last digit, and
/// with an exponent only below 1e-9 and from 1e15 on, where nobody would count the zeros.
std::string significant(double value, int digits);
/// A number with the digits that its standard uncertainty supports, two digits of that: "0.123" of 0.12345 +- 0.012.
std::string supported(double value, double standard_uncertainty);

/// A number from 0 on with so many significant digits, zeros and all, to the nearest, and the ends of a band, outwards:
/// a band that is shown is never narrower than it is.
std::string with_digits(double value, int digits);
std::string low_with_digits(double low, int digits);
std::string high_with_digits(double high, int digits);

}  // namespace bilancetta
