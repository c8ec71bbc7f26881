// Runs the test cases of a program and closes with their counts, one kind of line each, which tools/test reads.
#define DOCTEST_CONFIG_IMPLEMENT
#include <doctest/doctest.h>

#include <iostream>

#include "tests/support/lengths.hpp"

namespace {

unsigned run_cases = 0;

/// Tells the counts when all cases are over.
class Counts final : public doctest::IReporter {
 public:
  explicit Counts(const doctest::ContextOptions&) {}
  void test_run_end(const doctest::TestRunStats& stats) override {
    run_cases = stats.numTestCasesPassingFilters;
    const overwinter::test::Closing closing = overwinter::test::take_closing();
    for (const std::string& line : closing.lines) std::cout << line << '\n';
    std::cout << "cases: " << run_cases - stats.numTestCasesFailed - closing.skipped << " passed, "
              << stats.numTestCasesFailed << " failed, " << closing.skipped << " skipped" << std::endl;
  }
  void report_query(const doctest::QueryData&) override {}
  void test_run_start() override {}
  void test_case_start(const doctest::TestCaseData&) override {}
  void test_case_reenter(const doctest::TestCaseData&) override {}
  void test_case_end(const doctest::CurrentTestCaseStats&) override {}
  void test_case_exception(const doctest::TestCaseException&) override {}
  void subcase_start(const doctest::SubcaseSignature&) override {}
  void subcase_end() override {}
  void log_assert(const doctest::AssertData&) override {}
  void log_message(const doctest::MessageData&) override {}
  void test_case_skipped(const doctest::TestCaseData&) override {}
};

REGISTER_LISTENER("counts", 1, Counts);

}  // namespace

int main(int argc, char** argv) {
  doctest::Context context(argc, argv);
  const int result = context.run();
  if (!context.shouldExit() && run_cases == 0) {
    std::cerr << "no test case has that name or file\n";
    return 1;
  }
  return result;
}
