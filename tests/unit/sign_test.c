#include "support/check.h"
#include "support/place.h"
#include "support/sample_results.h"

#include <fcntl.h>

#include "report/folder/write.h"
#include "verify/sign.h"

static test_place place;
static char folder[300], key[300], pub[300], other_pub[300];
static char public_key[PP_PUBLIC_KEY_MAX];

static const pp_signing by_shop = {.key_path = key, .role = "inspector", .threads = 2};

static const char *const FILES[] = {
    "results.json", "report.html",     "certificate.pdf", "results.qif", "holes.csv",
    "areas.csv",    "ligaments.csv",   "holddown.csv",    "map.csv",     "setups.csv",
    "drilling.csv", "setup-sheet.pdf", "worklist.csv",    "worklist.pdf"};
enum { FILE_COUNT = sizeof FILES / sizeof FILES[0] };

static int make_signed_folder(void **state)
{
    (void)state;
    place = test_place_make();
    pp_sample sample;
    pp_sample_make(&sample, &(pp_sample_options){.job_path = test_path(&place, "plate.ini")});
    pp_error error = {0};
    snprintf(folder, sizeof folder, "%s/plate-report", place.path);
    assert_ok(pp_report_write(&sample.results, folder, &(pp_report_options){.threads = 1},
                              &sample.memory, &error),
              &error);
    pp_sample_free(&sample);
    char other[PP_PUBLIC_KEY_MAX], signer[PP_SIGNER_MAX + 1];
    assert_ok(pp_keys_make(test_path(&place, "shop"), NULL, public_key, &error), &error);
    assert_ok(pp_keys_make(test_path(&place, "other"), NULL, other, &error), &error);
    snprintf(key, sizeof key, "%s/shop.key", place.path);
    snprintf(pub, sizeof pub, "%s/shop.pub", place.path);
    snprintf(other_pub, sizeof other_pub, "%s/other.pub", place.path);
    pp_memory memory = {0};
    assert_ok(pp_sign_folder(folder, &by_shop, &memory, signer, &error), &error);
    assert_string_equal(signer, "shop");
    pp_memory_free(&memory);
    return 0;
}

static int remove_signed_folder(void **state)
{
    (void)state;
    test_place_remove(&place);
    return 0;
}

/* The check's answer, with its first fault. */
typedef struct answer {
    bool sound;
    size_t faults;
    pp_signature_fault_kind kind;
    char file[64];
} answer;

static answer check(void)
{
    pp_memory memory = {0};
    pp_error error = {0};
    pp_signature signature;
    assert_ok(pp_signature_check(folder, NULL, NULL, 1, &memory, &signature, &error), &error);
    assert_true(signature.present);
    assert_true(signature.sound || signature.why_not);
    answer a = {signature.sound, signature.fault_count, 0, ""};
    if (signature.fault_count) {
        a.kind = signature.faults[0].kind;
        snprintf(a.file, sizeof a.file, "%s", signature.faults[0].file);
    }
    pp_memory_free(&memory);
    return a;
}

static void keys_are_kept_from_others_and_never_overwritten(void **state)
{
    (void)state;
    struct stat facts;
    assert_int_equal(stat(key, &facts), 0);
    assert_int_equal(facts.st_mode & 0777, 0600);
    char fresh[PP_PUBLIC_KEY_MAX];
    pp_error error = {0};
    pp_memory memory = {0};
    pp_key_list keys;
    assert_ok(pp_key_list_read(pub, &memory.keep, &keys, &error), &error);
    assert_int_equal(keys.count, 1);
    assert_string_equal(keys.keys[0], public_key);
    assert_int_equal(pp_keys_make(test_path(&place, "shop"), NULL, fresh, &error), PP_EINPUT);
    assert_int_equal(pp_key_list_read(key, &memory.keep, &keys, &error), PP_EINPUT);
    assert_int_equal(pp_keys_make(test_path(&place, "plate-report/mine"), NULL, fresh, &error),
                     PP_EINPUT);
    assert_int_equal(pp_keys_make(test_path(&place, "a\nb"), NULL, fresh, &error), PP_EINPUT);
    test_write(test_path(&place, "half.pub"), "");
    assert_int_equal(pp_keys_make(test_path(&place, "half"), NULL, fresh, &error), PP_EINPUT);
    assert_int_not_equal(access(test_path(&place, "half.key"), F_OK), 0);
    char signer[PP_SIGNER_MAX + 1];
    remove(test_path(&place, "plate-report/signature.json"));
    chmod(key, 0640);
    assert_int_equal(pp_sign_folder(folder, &by_shop, &memory, signer, &error), PP_EINPUT);
    assert_non_null(strstr(error.message, "chmod 600"));
    chmod(key, 0600);
    assert_ok(pp_sign_folder(folder, &by_shop, &memory, signer, &error), &error);
    assert_int_equal(pp_sign_folder(folder, &by_shop, &memory, signer, &error), PP_EINPUT);
    pp_memory_free(&memory);
}

static void an_untouched_folder_is_sound(void **state)
{
    (void)state;
    pp_memory memory = {0};
    pp_error error = {0};
    pp_signature signature;
    assert_ok(pp_signature_check(folder, NULL, NULL, 2, &memory, &signature, &error), &error);
    assert_true(signature.present && signature.sound);
    assert_int_equal(signature.fault_count, 0);
    assert_int_equal(signature.files, FILE_COUNT);
    assert_int_equal(signature.signer_count, 1);
    assert_string_equal(signature.signers[0].name, "shop");
    assert_string_equal(signature.signers[0].role, "inspector");
    assert_string_equal(signature.signers[0].public_key, public_key);
    assert_true(signature.signers[0].as_is); /* by_shop says nothing of a recomputation */
    assert_ok(pp_signature_check(place.path, NULL, NULL, 1, &memory, &signature, &error), &error);
    assert_false(signature.present);
    pp_memory_free(&memory);
}

static void flip(const char *path, long offset)
{
    FILE *file = fopen(path, "r+b");
    fseek(file, offset, SEEK_SET);
    int byte = fgetc(file);
    fseek(file, offset, SEEK_SET);
    fputc(byte ^ 1, file);
    fclose(file);
}

static void any_byte_of_any_file_matters(void **state)
{
    (void)state;
    for (size_t i = 0; i < FILE_COUNT; i++) {
        char path[600];
        snprintf(path, sizeof path, "%s/%s", folder, FILES[i]);
        struct stat facts;
        stat(path, &facts);
        const long offsets[] = {0, (long)facts.st_size / 2, (long)facts.st_size - 1};
        for (size_t k = 0; k < 3; k++) {
            flip(path, offsets[k]);
            answer a = check();
            assert_true(a.sound);
            assert_int_equal(a.faults, 1);
            assert_int_equal(a.kind, PP_FILE_CHANGED);
            assert_string_equal(a.file, FILES[i]);
            flip(path, offsets[k]);
        }
        char aside[620];
        snprintf(aside, sizeof aside, "%s/aside", place.path);
        rename(path, aside);
        answer a = check();
        assert_int_equal(a.faults, 1);
        assert_int_equal(a.kind, PP_FILE_MISSING);
        assert_int_equal(symlink(aside, path), 0); /* the same bytes, but not in the folder */
        a = check();
        assert_int_equal(a.faults, 1);
        assert_int_equal(a.kind, PP_FILE_CHANGED);
        unlink(path);
        rename(aside, path);
    }
    answer a = check();
    assert_true(a.sound && a.faults == 0);
}

static void nothing_can_be_added(void **state)
{
    (void)state;
    const char *added[] = {"plate-report/note.txt", "plate-report/.hidden"};
    for (size_t i = 0; i < 2; i++) {
        test_write(test_path(&place, added[i]), "");
        answer a = check();
        assert_int_equal(a.faults, 1);
        assert_int_equal(a.kind, PP_FILE_ADDED);
        remove(test_path(&place, added[i]));
    }
    mkdir(test_path(&place, "plate-report/sub"), 0755);
    assert_int_equal(check().faults, 1);
    pp_memory memory = {0};
    pp_error error = {0};
    char signer[PP_SIGNER_MAX + 1];
    rename(test_path(&place, "plate-report/signature.json"), test_path(&place, "sig"));
    assert_int_equal(pp_sign_folder(folder, &by_shop, &memory, signer, &error), PP_EINPUT);
    rename(test_path(&place, "sig"), test_path(&place, "plate-report/signature.json"));
    rmdir(test_path(&place, "plate-report/sub"));
    assert_int_equal(check().faults, 0);
    pp_memory_free(&memory);
}

static void any_byte_of_the_signature_matters(void **state)
{
    (void)state;
    char path[600];
    snprintf(path, sizeof path, "%s/signature.json", folder);
    struct stat facts;
    stat(path, &facts);
    for (long offset = 0; offset < facts.st_size; offset++) {
        flip(path, offset);
        answer a = check();
        if (a.sound) print_error("byte %ld of signature.json\n", offset);
        assert_false(a.sound);
        flip(path, offset);
    }
    int file = open(path, O_WRONLY | O_APPEND);
    assert_int_equal(write(file, "\n", 1), 1);
    close(file);
    assert_false(check().sound);
    assert_int_equal(truncate(path, facts.st_size), 0);
    assert_true(check().sound);
}

/* ---- several signers, passphrases, revoked keys, older signatures ---- */

static void another_signs_beneath(void **state)
{
    (void)state;
    pp_memory memory = {0};
    pp_error error = {0};
    pp_signature found;
    pp_key_list trusted, revoked;
    char signer[PP_SIGNER_MAX + 1], other_key[300];
    snprintf(other_key, sizeof other_key, "%s/other.key", place.path);
    const pp_signing by_other = {.key_path = other_key,
                                 .role = "customer",
                                 .verdict = "conforms",
                                 .recomputed = true,
                                 .threads = 1};
    assert_ok(pp_sign_folder(folder, &by_other, &memory, signer, &error), &error);
    assert_ok(pp_key_list_read(other_pub, &memory.keep, &trusted, &error), &error);
    test_write(test_path(&place, "revoked"), "# lost on a train\n\n");
    FILE *list = fopen(test_path(&place, "revoked"), "a");
    fprintf(list, "%s\n", public_key);
    fclose(list);
    assert_ok(pp_key_list_read(test_path(&place, "revoked"), &memory.keep, &revoked, &error),
              &error);
    assert_ok(pp_signature_check(folder, &trusted, &revoked, 1, &memory, &found, &error), &error);
    assert_true(found.sound);
    assert_int_equal(found.signer_count, 2);
    assert_true(found.signers[0].revoked && !found.signers[0].trusted);
    assert_true(found.signers[1].trusted && !found.signers[1].revoked && !found.signers[1].as_is);
    assert_string_equal(found.signers[1].verdict, "conforms");
    /* the same key does not sign twice, and the first cannot be taken away from under the second */
    assert_int_equal(pp_sign_folder(folder, &by_other, &memory, signer, &error), PP_EINPUT);
    char *text = test_read(test_path(&place, "plate-report/signature.json"));
    char *first = strstr(strstr(text, "\"signatures\""), "    {"),
         *second = strstr(first + 5, "    {");
    memmove(first, second, strlen(second) + 1);
    test_write(test_path(&place, "plate-report/signature.json"), text);
    free(text);
    assert_false(check().sound);
    remove(test_path(&place, "plate-report/signature.json"));
    assert_ok(pp_sign_folder(folder, &by_shop, &memory, signer, &error), &error);
    pp_memory_free(&memory);
}

static bool say_words(void *context, bool again, char passphrase[PP_PASSPHRASE_MAX + 1])
{
    (void)again;
    snprintf(passphrase, PP_PASSPHRASE_MAX + 1, "%s", *(const char **)context);
    return **(const char **)context != '\0';
}

static void a_key_with_a_passphrase_needs_it(void **state)
{
    (void)state;
    pp_memory memory = {0};
    pp_error error = {0};
    const char *words = "nine plain baffles";
    const pp_passphrase ask = {say_words, &words};
    char shown[PP_PUBLIC_KEY_MAX], signer[PP_SIGNER_MAX + 1], locked[300];
    assert_ok(pp_keys_make(test_path(&place, "locked"), &ask, shown, &error), &error);
    snprintf(locked, sizeof locked, "%s/locked.key", place.path);
    char *text = test_read(locked);
    assert_null(strstr(text, "seed"));
    free(text);
    pp_signing signing = {.key_path = locked, .passphrase = &ask, .threads = 1};
    remove(test_path(&place, "plate-report/signature.json"));
    words = "nine plain bafflee";
    assert_int_equal(pp_sign_folder(folder, &signing, &memory, signer, &error), PP_EINPUT);
    assert_non_null(strstr(error.message, "passphrase"));
    words = "";
    assert_int_equal(pp_sign_folder(folder, &signing, &memory, signer, &error), PP_EINPUT);
    assert_int_equal(pp_keys_make(test_path(&place, "none"), &ask, shown, &error), PP_EINPUT);
    assert_int_not_equal(access(test_path(&place, "none.pub"), F_OK), 0);
    words = "nine plain baffles";
    assert_ok(pp_sign_folder(folder, &signing, &memory, signer, &error), &error);
    assert_string_equal(signer, "locked");
    remove(test_path(&place, "plate-report/signature.json"));
    assert_ok(pp_sign_folder(folder, &by_shop, &memory, signer, &error), &error);
    pp_memory_free(&memory);
}

static void a_key_in_the_folder_is_refused(void **state)
{
    (void)state;
    pp_memory memory = {0};
    pp_error error = {0};
    char signer[PP_SIGNER_MAX + 1], inside[600];
    snprintf(inside, sizeof inside, "%s/../plate-report/shop.key", folder);
    remove(test_path(&place, "plate-report/signature.json"));
    rename(key, inside);
    const pp_signing signing = {.key_path = inside, .threads = 1};
    assert_int_equal(pp_sign_folder(folder, &signing, &memory, signer, &error), PP_EINPUT);
    assert_non_null(strstr(error.message, "given away"));
    rename(inside, key);
    assert_ok(pp_sign_folder(folder, &by_shop, &memory, signer, &error), &error);
    pp_memory_free(&memory);
}

/* Signed by the program's version 0.1.0, with a key made for it. */
static void a_signature_of_version_1_still_holds(void **state)
{
    (void)state;
    pp_memory memory = {0};
    pp_error error = {0};
    pp_signature found;
    char signer[PP_SIGNER_MAX + 1];
    const char *old = PP_SOURCE_DIR "/tests/corpus/signed-0.1.0";
    assert_ok(pp_signature_check(old, NULL, NULL, 1, &memory, &found, &error), &error);
    assert_true(found.present && found.sound);
    assert_int_equal(found.fault_count, 0);
    assert_string_equal(found.signers[0].name, "office");
    assert_null(found.signers[0].time);
    assert_int_equal(pp_sign_folder(old, &by_shop, &memory, signer, &error), PP_EINPUT);
    pp_memory_free(&memory);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(keys_are_kept_from_others_and_never_overwritten),
        cmocka_unit_test(an_untouched_folder_is_sound),
        cmocka_unit_test(any_byte_of_any_file_matters),
        cmocka_unit_test(nothing_can_be_added),
        cmocka_unit_test(any_byte_of_the_signature_matters),
        cmocka_unit_test(another_signs_beneath),
        cmocka_unit_test(a_key_with_a_passphrase_needs_it),
        cmocka_unit_test(a_key_in_the_folder_is_refused),
        cmocka_unit_test(a_signature_of_version_1_still_holds),
    };
    return cmocka_run_group_tests(tests, make_signed_folder, remove_signed_folder);
}
