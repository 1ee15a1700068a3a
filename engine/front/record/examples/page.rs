fn main() {
    print!("{}", dryturn_record::tables::page());
}
