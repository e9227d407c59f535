#include "words.hpp"

#include <catch2/catch.hpp>
#include <limits>

using namespace bilancetta;

TEST_CASE("numbers for people are rounded to their digits, and never hold an exponent", "[words]")
{
  CHECK(significant(0.0, 2) == "0");
  CHECK(significant(400.0, 2) == "400");
  CHECK(significant(1284.2, 2) == "1300");
  CHECK(significant(1284.2, 4) == "1284");
  CHECK(significant(994.9, 2) == "990");
  CHECK(significant(999.6, 2) == "1000");
  CHECK(significant(9.96, 2) == "10");
  CHECK(significant(0.0996, 2) == "0.1");
  CHECK(significant(0.5, 3) == "0.5");
  CHECK(significant(12.345, 3) == "12.3");
  CHECK(significant(-0.00123456, 3) == "-0.00123");
  CHECK(significant(1e-7, 6) == "0.0000001");
  CHECK(significant(5e-5, 2) == "0.00005");
  CHECK(significant(1e6, 6) == "1000000");
  CHECK(significant(123456.0, 1) == "100000");
  CHECK(significant(std::numeric_limits<double>::infinity(), 2) == "inf");
}
